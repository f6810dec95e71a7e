/** What the teaching screens ask of the service, and which meter is being taught. */
import { signal } from '@preact/signals';
import { readAs } from '../../../drivers/address.ts';
import type { ClientRequest, FoundGuess, LayoutList, LiveFinding, TaughtAnswer } from '../../../server/live/protocol.ts';
import type { Layout } from '../../../drivers/decoders/text-layout.ts';
import type { MeterRecord } from '../../../server/session/session.ts';
import { ask, RequestFailed } from '../../live/index.ts';
import { live, notice } from '../../state.ts';

/** Index of the meter that is being taught; null when none is. */
export const teaching = signal<number | null>(null);
/** The user's own layouts; null until they were asked for. */
export const layouts = signal<LayoutList | null>(null);

/** Working a layout out may take this long, s. */
const TEACH_PATIENCE = 25;

/** @returns what the request gives back; null when it was refused, which is told */
export async function asked<T>(request: ClientRequest, patience?: number): Promise<T | null> {
  try {
    const result = (await ask(request, patience)) as T;
    if (notice.value?.kind === 'trouble') notice.value = null;
    return result ?? ({} as T);
  } catch (error) {
    if (!(error instanceof RequestFailed)) throw error;
    notice.value = { kind: 'trouble', text: error.message };
    return null;
  }
}

export function teach(request: Extract<ClientRequest, { type: 'teach-lines' | 'teach-frames' }>): Promise<TaughtAnswer | null> {
  return asked<TaughtAnswer>(request, TEACH_PATIENCE);
}

/** Listens to the port of an address, or to the attached meter there. */
export function findOut(address: string, more: { mayAsk?: boolean; patience?: number } = {}): void {
  void asked({ type: 'find-out', address, ...more });
}

export function stopFinding(): void {
  void asked({ type: 'stop-finding' });
}

/** One press: attached when it is not yet, else read in that way from now on. */
export async function readBy({ meter }: LiveFinding, { address }: FoundGuess): Promise<void> {
  const done = await asked(meter === null ? { type: 'attach-meter', address } : { type: 'reread-meter', meter, address });
  if (done !== null) stopFinding();
}

/** To the teaching screen, with the meter attached. */
export async function teachFound({ meter, teachAddress, guesses }: LiveFinding): Promise<void> {
  const address = teachAddress ?? guesses[0]?.address;
  let index = meter;
  if (index === null && address !== undefined) index = (await asked<MeterRecord>({ type: 'attach-meter', address }))?.index ?? null;
  if (index === null) return;
  stopFinding();
  teaching.value = index;
}

/** Saves what was taught, and reads the meter by it. @returns whether it is so now */
export async function saveAndUse(index: number, layout: Layout): Promise<boolean> {
  const address = live.value?.meters.find((meter) => meter.index === index)?.address;
  if (address === undefined || (await asked({ type: 'save-layout', layout })) === null) return false;
  const settings = `${layout.layout === 'frame/1' ? 'decoder=frame&' : ''}layout=${layout.name}`;
  return (await asked({ type: 'reread-meter', meter: index, address: readAs(address, null, settings) })) !== null;
}

export async function readLayouts(): Promise<void> {
  layouts.value = (await asked<LayoutList>({ type: 'list-layouts' })) ?? layouts.value;
}
