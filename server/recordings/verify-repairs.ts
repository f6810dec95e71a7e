/** What was noted of a repair is sealed with the takes made after it: whether it is still that, and its pictures with it. */
import { createHash } from 'node:crypto';
import { photoDocument } from '../session/repair.ts';
import type { PhotoContent, RepairFile } from '../session/repair.ts';
import { repairHash } from './chain.ts';
import type { Finding } from './offers.ts';
import type { SessionReader } from './session-reader.ts';

export function checkRepairs(reader: SessionReader): Finding[] {
  const file = reader.document('repair') as RepairFile | undefined;
  const sealed = new Map(reader.takes().flatMap(({ take: { repair } }) => (repair === undefined ? [] : [[repair.number, repair.hash] as const])));
  return [...sealed].flatMap(([number, hash]): Finding[] => {
    const where = `repair ${number}`;
    const repair = file?.repairs.find((own) => own.number === number);
    if (repair === undefined) return [{ where, what: 'is missing, and takes were made after it' }];
    const pictures = repair.photos.flatMap(({ id, sha256 }, order): Finding[] => {
      const content = reader.document(photoDocument(id)) as PhotoContent | undefined;
      if (content === undefined) return [{ where, what: `its picture ${order + 1} is missing` }];
      const found = createHash('sha256').update(Buffer.from(content.base64, 'base64')).digest('hex');
      return found === sha256 ? [] : [{ where, what: `its picture ${order + 1} is another one` }];
    });
    return [...(repairHash(repair) === hash ? [] : [{ where, what: 'differs from what the takes after it were sealed with' }]), ...pictures];
  });
}
