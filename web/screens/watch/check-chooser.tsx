/** Choice of a check: one of the list, or one made by hand from a kind and two points. */
import { useState } from 'preact/hooks';
import { CHECK_KINDS, type CheckKind } from '../../../server/diagnosis/judgement.ts';
import { quantityOf } from '../../../server/session/check-function.ts';
import type { Check } from '../../../server/session/session.ts';
import { unitSign } from '../../figures/reading-text.ts';
import { choose, request } from '../../actions.ts';
import { checkName, checkQuantity, checkSentence, limitsText, typedNumber } from '../../check-words.ts';
import { Dialog } from '../../parts/dialog.tsx';
import { live } from '../../state.ts';
import { texts } from '../../texts.ts';

export function CheckChooser({ onClose }: { onClose: () => void }) {
  const now = live.value!;
  const [search, setSearch] = useState('');
  const words = search.toLowerCase().split(/\s+/);
  const found = now.checks.filter((check) => {
    const about = `${checkName(check)} ${checkSentence(check)}`.toLowerCase();
    return words.every((word) => about.includes(word));
  });
  const take = (check: Check): void => {
    void choose(check, now.watching);
    onClose();
  };
  return (
    <Dialog title={texts.check.chooseTitle} closeText={texts.check.close} onClose={onClose}>
      {now.checks.length > 8 && (
        <label>{texts.check.search}<input type="search" value={search} onInput={(e) => setSearch(e.currentTarget.value)} /></label>
      )}
      {found.length === 0 && <p class="empty">{texts.check.searchNone}</p>}
      {found.length > 0 && (
        <ul class="check-list" aria-label={texts.check.listed}>
          {found.map((check) => (
            <li key={check.id}>
              <button type="button" aria-pressed={check.id === now.check.id} onClick={() => take(check)}>
                <strong>{checkName(check)}</strong>
                <span>{checkSentence(check)}</span>
                <small>{limitsText(check.limits, checkQuantity(check))}{check.id === now.check.id ? ` · ${texts.check.chosen}` : ''}</small>
              </button>
            </li>
          ))}
        </ul>
      )}
      <OwnLimits />
      <HandMade onUse={take} />
    </Dialog>
  );
}

/** What the user changed for every check of a kind, each to be taken back. */
function OwnLimits() {
  const { ownLimits } = live.value!;
  const t = texts.check;
  if (ownLimits.length === 0) return null;
  return (
    <section class="own-limits" aria-label={t.ownLimitsTitle}>
      <h3>{t.ownLimitsTitle}</h3>
      <ul>
        {ownLimits.map(({ kind, quantity, limits }) => (
          <li key={`${kind} ${quantity}`}>
            {t.ownLimits(t.kinds[kind], limitsText(limits, quantity))} <button type="button" onClick={() => void request({ type: 'change-limits', kind, quantity, limits: null })}>{t.takeBack}</button>
          </li>
        ))}
      </ul>
    </section>
  );
}

interface Draft { kind: CheckKind; red: string; black: string; low: string; high: string; condition: string }

function HandMade({ onUse }: { onUse: (check: Check) => void }) {
  const now = live.value!;
  const [draft, setDraft] = useState<Draft>(draftOf(now.check));
  const [error, setError] = useState('');
  const unit = unitSign(checkQuantity(draft));
  const set = (change: Partial<Draft>): void => setDraft({ ...draft, ...change });
  const [isForKind, setForKind] = useState(false);
  const submit = async (event: Event): Promise<void> => {
    event.preventDefault();
    const made = checkFrom(draft, now.check);
    if (typeof made === 'string') return setError(made);
    const { kind, limits } = made;
    if (isForKind && !(await request({ type: 'change-limits', kind, quantity: quantityOf(made), limits }))) return;
    // With limits for its kind the check is the offered one again, as the service has it now.
    const offered = isForKind ? live.value?.checks.find((check) => check.id === made.id && check.condition === made.condition) : undefined;
    onUse(offered ?? made);
  };
  const t = texts.check;
  return (
    <form class="hand-made" onSubmit={(event) => void submit(event)}>
      <h3>{t.byHand}</h3>
      <datalist id="points">{now.points.map((point) => <option key={point} value={point} />)}</datalist>
      <label>{t.kind}
        <select value={draft.kind} onChange={(e) => set({ kind: e.currentTarget.value as CheckKind })}>
          {CHECK_KINDS.map((kind) => <option key={kind} value={kind}>{t.kinds[kind]}</option>)}
        </select>
      </label>
      <label>{t.red}<input list="points" value={draft.red} onInput={(e) => set({ red: e.currentTarget.value })} /></label>
      <label>{t.black}<input list="points" value={draft.black} onInput={(e) => set({ black: e.currentTarget.value })} /></label>
      <label>{t.low(unit)}<input inputMode="decimal" value={draft.low} onInput={(e) => set({ low: e.currentTarget.value })} /></label>
      <label>{t.high(unit)}<input inputMode="decimal" value={draft.high} onInput={(e) => set({ high: e.currentTarget.value })} /></label>
      <label class="wide">{t.conditionInput}<input value={draft.condition} onInput={(e) => set({ condition: e.currentTarget.value })} /></label>
      <label class="inline wide"><input type="checkbox" checked={isForKind} onChange={(e) => setForKind(e.currentTarget.checked)} /> {t.forKind}</label>
      {error !== '' && <p class="form-error" role="alert">{error}</p>}
      <button type="submit" class="strong">{now.take === null ? t.use : t.useAndGoOn}</button>
    </form>
  );
}

function draftOf({ kind, red, black, limits: { low, high }, condition }: Check): Draft {
  return { kind, red, black, low: limitFigures(low), high: limitFigures(high), condition };
}

function limitFigures(limit: number | null): string {
  return limit === null ? '' : String(Number(limit.toPrecision(6)));
}

/** A limit that was left as it stood is not rounded. */
function typedLimit(text: string, before: number | null): number | null {
  return text === limitFigures(before) ? before : typedNumber(text);
}

/**
 * @param base  the check at hand: with other limits it is still the same, and keeps what to do before touching
 * @returns the check, or a sentence about what has to be corrected
 */
function checkFrom(draft: Draft, base: Check): Check | string {
  if (draft.red.trim() === '') return texts.check.pointNeeded;
  try {
    const limits = { low: typedLimit(draft.low, base.limits.low), high: typedLimit(draft.high, base.limits.high) };
    if (limits.low !== null && limits.high !== null && limits.low > limits.high) return texts.check.badOrder;
    const typed = { limits, limitsBasis: texts.check.basisTyped, condition: draft.condition.trim() };
    if (draft.kind === base.kind && draft.red.trim() === base.red && draft.black.trim() === base.black) return { ...base, ...typed };
    return {
      id: `by-hand ${draft.kind} ${draft.red.trim()} ${draft.black.trim()}`.slice(0, 100),
      kind: draft.kind, red: draft.red.trim(), black: draft.black.trim(), ...typed, instructions: [], cautions: [], ...(base.supply === undefined ? {} : { supply: base.supply }),
    };
  } catch (cause) {
    if (!(cause instanceof RangeError)) throw cause;
    return texts.check.badNumber;
  }
}
