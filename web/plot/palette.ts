/** The colours of the style sheet, for drawing on a canvas. */

export interface Palette {
  readonly ink: string; readonly quiet: string; readonly grid: string; readonly trace: string; readonly surface: string;
  readonly normal: string; readonly abnormal: string; readonly faulty: string; readonly font: string;
}

export function readPalette(element: Element): Palette {
  const style = getComputedStyle(element);
  const colour = (name: string) => style.getPropertyValue(name).trim();
  return {
    ink: colour('--ink'), quiet: colour('--quiet'), grid: colour('--hairline'), trace: colour('--trace'), surface: colour('--surface'),
    normal: colour('--normal'), abnormal: colour('--abnormal'), faulty: colour('--faulty'), font: style.fontFamily,
  };
}

/** Calls back when light changes to dark or back, by the device or by the user. @returns how to stop */
export function onThemeChange(changed: () => void): () => void {
  const system = matchMedia('(prefers-color-scheme: dark)');
  const watcher = new MutationObserver(changed);
  system.addEventListener('change', changed);
  watcher.observe(document.documentElement, { attributes: true, attributeFilter: ['data-theme'] });
  return () => {
    system.removeEventListener('change', changed);
    watcher.disconnect();
  };
}
