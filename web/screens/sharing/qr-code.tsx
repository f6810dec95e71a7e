/** A QR code (ISO/IEC 18004), dark on light whatever the theme, with the quiet zone of four modules that readers need. */
import { encode } from 'uqr';

const QUIET_ZONE = 4;

export function QrCode({ text, label }: { text: string; label: string }) {
  const { data, size } = encode(text, { ecc: 'M', border: QUIET_ZONE });
  // One path of unit squares, a run of dark modules at a time.
  const path = data.flatMap((row, y) => runs(row).map(([from, to]) => `M${from} ${y}h${to - from}v1h${from - to}z`)).join('');
  return (
    <svg class="qr-code" role="img" aria-label={label} viewBox={`0 0 ${size} ${size}`} shape-rendering="crispEdges">
      <rect width={size} height={size} fill="#fff" />
      <path d={path} fill="#000" />
    </svg>
  );
}

/** Begin and end of each stretch of dark modules. */
function runs(row: readonly boolean[]): [number, number][] {
  const found: [number, number][] = [];
  row.forEach((isDark, x) => {
    const last = found.at(-1);
    if (!isDark) return;
    if (last !== undefined && last[1] === x) last[1] = x + 1;
    else found.push([x, x + 1]);
  });
  return found;
}
