/** Where the screen is, as the hash of its address, so that back, reload and bookmarks work. Pure. */

export type Route =
  | { readonly screen: 'watch' | 'road' | 'chart' | 'meters' }
  /** Null: the session at hand. */
  | { readonly screen: 'repair'; readonly session: string | null }
  | { readonly screen: 'review'; readonly session: string | null; readonly take: number | null };

/** @param hash as in `location.hash`; anything not understood leads to the watch screen */
export function parseRoute(hash: string): Route {
  const [screen, session, take] = hash.replace(/^#/, '').split('/').map(decodePart);
  if (screen === 'repair') return { screen, session: session || null };
  if (screen !== 'review') return { screen: screen === 'road' || screen === 'chart' || screen === 'meters' ? screen : 'watch' };
  const number = Number(take);
  return { screen: 'review', session: session || null, take: session && take && Number.isInteger(number) ? number : null };
}

export function routeHash(route: Route): string {
  if (route.screen !== 'review' && route.screen !== 'repair') return `#${route.screen}`;
  const parts = [route.session, route.screen === 'review' ? route.take : null].filter((part) => part !== null);
  return [`#${route.screen}`, ...parts.map((part) => encodeURIComponent(part))].join('/');
}

function decodePart(part: string): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return '';
  }
}
