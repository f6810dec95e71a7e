/** What one person changed in a form, and what somebody else changed of the same meanwhile. Pure. */

const isAlike = (left: unknown, right: unknown): boolean => JSON.stringify(left) === JSON.stringify(right);

/** The fields that were typed differently from what stood there. */
export function ownChanges<Fields extends object>(before: Fields, typed: Fields): Partial<Fields> {
  const changed = Object.entries(typed).filter(([name, value]) => !isAlike(value, before[name as keyof Fields]));
  return Object.fromEntries(changed) as Partial<Fields>;
}

/** Names of own changes that would overwrite what somebody else wrote: it stood otherwise before, and is not what was typed now. */
export function clashes<Fields extends object>(before: Fields, now: Fields, own: Partial<Fields>): (keyof Fields)[] {
  return (Object.keys(own) as (keyof Fields)[]).filter((name) => !isAlike(before[name], now[name]) && !isAlike(own[name], now[name]));
}
