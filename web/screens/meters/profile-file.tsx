/** What is known of a meter, given to others as a file and taken from one. */
import { useRef } from 'preact/hooks';
import type { LiveMeter } from '../../../server/live/protocol.ts';
import { parseProfile, profileOf, profileText, type MeterProfile } from '../../../server/session/meter-profile.ts';
import { notice } from '../../state.ts';
import { texts } from '../../texts.ts';

const t = texts.profile;

export function ProfileFile({ meter, onRead }: { meter: LiveMeter; onRead: (profile: MeterProfile) => void }) {
  const input = useRef<HTMLInputElement>(null);
  const save = (): void => {
    const link = document.createElement('a');
    link.href = URL.createObjectURL(new Blob([profileText(profileOf(meter))], { type: 'application/json' }));
    link.download = `${meter.label.replace(/[^\p{L}\p{N}]+/gu, '-').replace(/^-|-$/g, '') || 'meter'}.json`;
    link.click();
    URL.revokeObjectURL(link.href);
  };
  const read = async (field: HTMLInputElement): Promise<void> => {
    const file = field.files?.[0];
    if (file === undefined) return;
    const parsed = parseProfile(await file.text());
    // The same file may be chosen again once it is mended.
    field.value = '';
    if (parsed.kind === 'profile') onRead(parsed.profile);
    else notice.value = { kind: 'trouble', text: t.notAProfile(parsed.faults.join('; ')) };
  };
  return (
    <div class="wide meter-card-buttons">
      <button type="button" onClick={save}>{t.save}</button>
      <button type="button" onClick={() => input.current?.click()}>{t.read}</button>
      <input ref={input} type="file" accept=".json,application/json" hidden aria-label={t.read} onChange={(event) => void read(event.currentTarget)} />
    </div>
  );
}
