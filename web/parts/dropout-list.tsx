/** The dropouts of the running take as a table. */
import type { Judgement } from '../../server/diagnosis/judgement.ts';
import type { Quantity } from '../../drivers/reading.ts';
import { depthText } from '../figures/reading-text.ts';
import { clockText, dropoutLengthText } from '../figures/time-text.ts';
import { texts } from '../texts.ts';

interface Props {
  readonly judgement: Judgement;
  readonly quantity: Quantity;
  /** Session clock, s, from which the times are counted: the start of the take. */
  readonly origin: number;
  readonly emptyText: string;
  /** Newest on top. */
  readonly newestFirst?: boolean;
}

export function DropoutList({ judgement, quantity, origin, emptyText, newestFirst = false }: Props) {
  const t = texts.dropouts;
  if (judgement.dropouts.length === 0) return <p class="empty">{emptyText}</p>;
  const rows = judgement.dropouts.map((dropout, index) => ({ dropout, index }));
  if (newestFirst) rows.reverse();
  return (
    <table class="dropouts">
      <thead><tr><th scope="col">{t.number}</th><th scope="col">{t.at}</th><th scope="col">{t.depth}</th><th scope="col">{t.length}</th><th scope="col">{t.departures}</th></tr></thead>
      <tbody>
        {rows.map(({ dropout, index }) => (
          <tr key={index}>
            <th scope="row">{index + 1}</th>
            <td>{clockText(dropout.start - origin, 2)}</td>
            <td>{dropout.overRange ? t.beyond : depthText(quantity, dropout.depth, judgement.resolution)}</td>
            <td>{dropoutLengthText(dropout)}</td>
            <td>{dropout.count}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}
