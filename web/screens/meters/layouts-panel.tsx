/** The user's own layouts: taken out as files to be shared, brought in from others. */
import { useEffect, useState } from 'preact/hooks';
import type { Layout } from '../../../drivers/decoders/text-layout.ts';
import { texts } from '../../texts.ts';
import { asked, layouts, readLayouts } from './teaching.ts';

const LARGEST_FILE = 256 * 1024;

export function LayoutsPanel() {
  const t = texts.layouts;
  const [error, setError] = useState('');
  useEffect(() => void readLayouts(), []);
  const list = layouts.value;
  const bringIn = async (input: HTMLInputElement): Promise<void> => {
    setError('');
    const file = input.files?.[0];
    if (file === undefined) return;
    let layout: unknown;
    try {
      if (file.size > LARGEST_FILE) throw new RangeError('too large');
      layout = JSON.parse(await file.text());
    } catch {
      return setError(t.notJson(file.name));
    } finally {
      input.value = '';
    }
    if ((await asked({ type: 'save-layout', layout })) !== null) await readLayouts();
  };
  const remove = async (name: string): Promise<void> => {
    if ((await asked({ type: 'remove-layout', name })) !== null) await readLayouts();
  };
  return (
    <section class="meter-ports">
      <h2>{t.title}</h2>
      <p class="hint">{t.why}</p>
      {list !== null && list.layouts.length > 0 && (
        <ul>
          {list.layouts.map(({ name, kind, origin, description }) => (
            <li key={name}>
              <span><b>{name}</b> <small>{t.kinds[kind]} · {origin}{description === '' ? '' : ` · ${description}`}</small></span>
              <span class="meter-card-buttons">
                <button type="button" aria-label={`${t.share}: ${name}`} onClick={() => void takeOut(name)}>{t.share}</button>
                <button type="button" aria-label={`${t.remove}: ${name}`} onClick={() => void remove(name)}>{t.remove}</button>
              </span>
            </li>
          ))}
        </ul>
      )}
      {list?.unusable.map(({ file, faults }) => <p key={file} class="form-error">{t.unusable(file, faults[0] ?? '')}</p>)}
      <label>{t.bringIn}<input type="file" accept=".json,application/json" onChange={(event) => void bringIn(event.currentTarget)} /></label>
      {error !== '' && <p class="form-error" role="alert">{error}</p>}
    </section>
  );
}

/** As a file of the browser's downloads. */
async function takeOut(name: string): Promise<void> {
  const layout = await asked<Layout>({ type: 'read-layout', name });
  if (layout === null) return;
  const link = document.createElement('a');
  link.href = URL.createObjectURL(new Blob([`${JSON.stringify(layout, null, 2)}\n`], { type: 'application/json' }));
  link.download = `${name}.json`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
}
