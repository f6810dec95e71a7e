/**
 * A whole session as one JSON object: its records as the program holds them, and the samples by column. Values that are
 * not there are null: JSON has no NaN, and the flags say why. It has no infinities either: those are the strings "Infinity" and "-Infinity".
 */
import { COUPLINGS, QUANTITIES, UNITS } from '../../drivers/reading.ts';
import type { SampleSource } from './export.ts';
import type { SessionReader } from './session-reader.ts';

export const JSON_SCHEMA = 'session/2';

export async function* jsonParts(reader: SessionReader, source: SampleSource): AsyncGenerator<string> {
  const seals = reader.seals();
  const head = {
    schema: JSON_SCHEMA,
    session: reader.info(),
    meters: reader.meters(),
    takes: reader.takes().map(({ take, judgement }) => ({ ...take, judgement })),
    marks: reader.marks(),
    documents: reader.documents(),
    losses: reader.losses(),
    last_hash: seals.length === 0 ? null : Buffer.from(seals.at(-1)!.chainHash).toString('hex'),
    numbers: { null: 'not there; the flags say why', strings: '"Infinity" and "-Infinity" in value and resolution, which JSON has no numbers for' },
    units: UNITS,
    function_code: { quantities: QUANTITIES, couplings: COUPLINGS, meaning: 'index of the quantity times 4 plus index of the coupling' },
  };
  yield `${JSON.stringify(head).slice(0, -1)},"samples":[`;
  let isAny = false;
  for await (const { take, meter, samples } of source.pages()) {
    const { seq, time, arrival, value, resolution, flags, functionCode } = samples;
    const columns = { take, meter, seq: [...seq], time: [...time], arrival: [...arrival], value: [...value], resolution: [...resolution], flags: [...flags], function_code: [...functionCode] };
    const text = value.some(isUnlikeJson) || resolution.some(isUnlikeJson) ? exactJson(columns) : JSON.stringify(columns);
    yield `${isAny ? ',' : ''}\n${text}`;
    isAny = true;
  }
  yield '\n]}\n';
}

/** Numbers that JSON.stringify makes others of; NaN it makes null. */
const isUnlikeJson = (value: number) => Object.is(value, -0) || value === Infinity || value === -Infinity;

function exactJson(columns: object): string {
  return JSON.stringify(columns, (_key, part: unknown) => (typeof part === 'number' && isUnlikeJson(part) ? (part === 0 ? '-0' : String(part)) : part)).replaceAll('"-0"', '-0');
}
