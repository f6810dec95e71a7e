/** The frame round every screen: where one is, what is connected, what was said last. */
import { useEffect } from 'preact/hooks';
import { Header } from './frame/header.tsx';
import { Alerts } from './frame/alerts.tsx';
import { CarryLine } from './frame/carry-line.tsx';
import { StatusLine } from './frame/status-line.tsx';
import { ChartScreen } from './screens/chart/chart-screen.tsx';
import { MetersScreen } from './screens/meters/meters-screen.tsx';
import { RepairScreen } from './screens/repair/repair-screen.tsx';
import { RoadScreen } from './screens/road/road-screen.tsx';
import { ReviewScreen } from './screens/review/review-screen.tsx';
import { WatchScreen } from './screens/watch/watch-screen.tsx';
import { route } from './state.ts';
import { texts } from './texts.ts';

export function App() {
  const screen = route.value.screen;
  useEffect(() => {
    document.title = `${texts.nav[screen]} – ${texts.appName}`;
    scrollTo(0, 0);
  }, [screen]);
  return (
    <>
      <a class="skip" href="#main" onClick={skipToMain}>{texts.nav.skip}</a>
      <Header />
      <CarryLine />
      <Alerts />
      <main id="main" tabIndex={-1} class={`screen-${screen}`}>
        {screen === 'watch' ? <WatchScreen /> : screen === 'road' ? <RoadScreen /> : screen === 'chart' ? <ChartScreen /> : screen === 'repair' ? <RepairScreen /> : screen === 'meters' ? <MetersScreen /> : <ReviewScreen />}
      </main>
      <StatusLine />
    </>
  );
}

/** The hash of the address belongs to the screens, so that the link moves the focus itself. */
function skipToMain(event: Event): void {
  event.preventDefault();
  document.getElementById('main')?.focus();
}
