/**
 * The harness as data: circuits made of points joined by spans, and the components between
 * points. Everything else about a circuit (what it should read, what to check, where it may be
 * broken) is worked out from this.
 */
import type { SystemVoltage } from './limits.ts';

/**
 * A place that a lead can touch. blade: of a fuse · pin: of a connector · splice: wires joined inside
 * the loom · stud: ground stud · terminal: of a component · post: of a battery · contact: of a relay or switch
 */
export const POINT_KINDS = ['blade', 'pin', 'splice', 'stud', 'terminal', 'post', 'contact'] as const;
export type PointKind = (typeof POINT_KINDS)[number];

export interface ChartPoint {
  /** Short and unique, as on the wiring diagram, e.g. "C2/4". */
  readonly id: string;
  readonly kind: PointKind;
  /** Connector of a pin, e.g. "C2": pins of one connector come apart together. */
  readonly connector?: string;
  /** Resistance of one joint, ohm: each span that ends here adds it once. */
  readonly jointOhms: number;
  /** Minutes to get a lead on it, once the panel in front of it is off. */
  readonly accessMinutes: number;
  /** What has to come off first, by the id of a panel. */
  readonly panel?: string;
  /** Part of a restraint system (airbag): never probed, never put on ohms. */
  readonly restraint?: boolean;
}

/** Something that hides points; once off it stays off. */
export interface ChartPanel { readonly id: string; readonly minutes: number }

/** What a span suffers. */
export const EXPOSURES = ['flex', 'heat', 'damp', 'abrasion'] as const;
export type SpanExposure = (typeof EXPOSURES)[number];

/** The wire between two points, written in the direction from supply to ground. */
export interface ChartSpan {
  readonly id: string;
  readonly from: string;
  readonly to: string;
  /** m */
  readonly length: number;
  /** mm2 */
  readonly crossSection: number;
  /** Letter codes of IEC 60757, e.g. "RDYE"; empty when not known. */
  readonly colour: string;
  /** Where it runs, in words; spans with the same words run side by side. */
  readonly route: string;
  readonly exposures: readonly SpanExposure[];
}

/** Written from the supply side to the ground side; a battery from its positive post to its negative post. */
export type ChartComponent = { readonly id: string; readonly from: string; readonly to: string; readonly name: string } & (
  | { readonly kind: 'battery'; readonly volts: number; readonly ohms: number }
  | { readonly kind: 'fuse'; readonly amps: number; readonly ohms: number }
  /** Contact of a relay or switch, closed. */
  | { readonly kind: 'contact'; readonly ohms: number }
  /** `ohms` when hot and working; `coldOhms` for a filament that is not lit. */
  | { readonly kind: 'load'; readonly ohms: number; readonly coldOhms?: number; readonly electronic?: boolean }
);

export interface ChartCircuit {
  readonly id: string;
  readonly name: string;
  /** Ids of spans and components. */
  readonly parts: readonly string[];
  /** State in which everything in it works, e.g. "key on, clutch and lamp on". */
  readonly working: string;
}

export interface Chart {
  readonly name: string;
  /** Nominal, V. */
  readonly systemVoltage: SystemVoltage;
  readonly points: readonly ChartPoint[];
  readonly panels: readonly ChartPanel[];
  readonly spans: readonly ChartSpan[];
  readonly components: readonly ChartComponent[];
  readonly circuits: readonly ChartCircuit[];
  /** Metal that the harness runs along, by the point that joins it to battery negative; the negative post when left out. */
  readonly chassis?: string;
}

/** Colour codes of IEC 60757 (IEC 757-83, table): letters and the plain words for them. */
export const COLOURS: Readonly<Record<string, string>> = {
  BK: 'black', BN: 'brown', RD: 'red', OG: 'orange', YE: 'yellow', GN: 'green', BU: 'blue', VT: 'violet', GY: 'grey',
  WH: 'white', PK: 'pink', GD: 'gold', TQ: 'turquoise', SR: 'silver',
};

/**
 * Words for a colour of a span: "RDYE" is "red-yellow".
 * @returns null for letters that are no codes of IEC 60757
 */
export function colourWords(code: string): string | null {
  if (code === '') return '';
  if (code.length % 2 !== 0) return null;
  const words = code.match(/../g)?.map((letters) => COLOURS[letters]) ?? [];
  return words.some((word) => word === undefined) ? null : words.join('-');
}

/** Everything that current flows through, by id. */
export function partIds(chart: Chart): string[] {
  return [...chart.spans.map((span) => span.id), ...chart.components.map((component) => component.id)];
}

/** The point, or undefined. */
export function pointOf(chart: Chart, id: string): ChartPoint | undefined {
  return chart.points.find((point) => point.id === id);
}

/** The battery, or undefined when the chart has none. */
export function batteryOf(chart: Chart): Extract<ChartComponent, { kind: 'battery' }> | undefined {
  return chart.components.find((component) => component.kind === 'battery');
}
