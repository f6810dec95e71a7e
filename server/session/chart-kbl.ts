/**
 * Wires, connectors and lengths out of a KBL file (VDA recommendation 4964, XML). Read as far as the sample of our own
 * in the tests shows, written from memory of the format: connector occurrences with their contact points and
 * cavities, wire occurrences with length, cross-section and colour, and the connections between them.
 * Battery, fuses and loads are no part of such a file: they are added in the table.
 */
import { XMLParser } from 'fast-xml-parser';
import type { ChartPoint, ChartSpan } from './chart.ts';
import { COLOURS } from './chart.ts';
import { USUAL_JOINT_OHMS, guessPoint } from './chart-rows.ts';

/** What could be read, and what was left out and why. */
export interface HarnessParts {
  readonly points: readonly ChartPoint[];
  readonly spans: readonly ChartSpan[];
  readonly notes: readonly string[];
}
export type ReadHarness = { readonly kind: 'harness'; readonly harness: HarnessParts } | { readonly kind: 'unreadable'; readonly reason: string };

const MOST_BYTES = 20_000_000;

type Node = Record<string, unknown>;

/** Never throws for bad data. */
export function harnessFromKbl(text: string): ReadHarness {
  if (text.length > MOST_BYTES) return { kind: 'unreadable', reason: `the file has ${text.length} characters, at most ${MOST_BYTES} are read` };
  let root: Node;
  try {
    // Entities are not expanded: a file from outside must not grow while it is read.
    root = new XMLParser({ ignoreAttributes: false, attributeNamePrefix: '@', removeNSPrefix: true, parseTagValue: false, processEntities: false }).parse(text, true) as Node;
  } catch (error) {
    return { kind: 'unreadable', reason: `not XML: ${error instanceof Error ? error.message : String(error)}` };
  }
  const container = root['KBL_container'];
  if (typeof container !== 'object' || container === null) return { kind: 'unreadable', reason: 'no KBL_container in the file' };
  return { kind: 'harness', harness: new Reader(container as Node).read() };
}

class Reader {
  readonly #container: Node;
  readonly #notes: string[] = [];
  readonly #points = new Map<string, ChartPoint>();

  constructor(container: Node) {
    this.#container = container;
  }

  read(): HarnessParts {
    const harnesses = list(this.#container, 'Harness');
    const spans = harnesses.flatMap((harness) => this.#spans(harness));
    if (harnesses.length === 0) this.#notes.push('no Harness in the file');
    return { points: [...this.#points.values()], spans, notes: this.#notes };
  }

  #spans(harness: Node): ChartSpan[] {
    const contacts = this.#contactPoints(harness);
    const wires = byId(list(harness, 'General_wire_occurrence'));
    return list(harness, 'Connection').flatMap((connection): ChartSpan[] => {
      const name = text(connection, 'Signal_name') ?? id(connection) ?? 'a connection';
      const wire = wires.get(text(connection, 'Wire') ?? '');
      const ends = list(connection, 'Extremities')
        .map((end) => ({ at: Number(text(end, 'Position_on_wire') ?? NaN), contact: text(end, 'Contact_point') ?? '' }))
        .sort((left, right) => left.at - right.at);
      const [from, to] = [ends[0], ends[ends.length - 1]].map((end) => contacts.get(end?.contact ?? ''));
      if (wire === undefined || from === undefined || to === undefined || ends.length < 2) {
        this.#notes.push(`${name}: left out, its wire or one of its ends is not in the file`);
        return [];
      }
      const part = byId(list(this.#container, 'General_wire')).get(text(wire, 'Part') ?? '');
      const length = this.#length(wire);
      const crossSection = part === undefined ? null : this.#quantity(one(part, 'Cross_section_area'), 1e6);
      if (length === null) this.#notes.push(`${name}: no length, 1 m taken`);
      if (crossSection === null) this.#notes.push(`${name}: no cross-section, 1 mm² taken`);
      for (const point of [from, to]) if (!this.#points.has(point)) this.#points.set(point, pinOf(point));
      return [{
        id: text(wire, 'Wire_number') ?? `${from} to ${to}`, from, to, length: length ?? 1, crossSection: crossSection ?? 1, colour: this.#colour(part, name), route: '', exposures: [],
      }];
    });
  }

  /** Point by contact point: connector and cavity number, e.g. "C2/4". */
  #contactPoints(harness: Node): Map<string, string> {
    const cavities = byId(list(this.#container, 'Connector_housing').flatMap((housing) => list(housing, 'Slots').flatMap((slot) => list(slot, 'Cavities'))));
    const points = new Map<string, string>();
    for (const connector of list(harness, 'Connector_occurrence')) {
      const name = text(connector, 'Id') ?? id(connector) ?? '?';
      const own = byId(list(connector, 'Slots').flatMap((slot) => list(slot, 'Cavities')));
      for (const contact of list(connector, 'Contact_points')) {
        const occurrence = own.get(text(contact, 'Contacted_cavity') ?? '');
        const cavity = cavities.get(occurrence === undefined ? '' : text(occurrence, 'Part') ?? '');
        const number = (cavity === undefined ? undefined : text(cavity, 'Cavity_number')) ?? text(contact, 'Id') ?? '?';
        const contactId = id(contact);
        if (contactId !== undefined) points.set(contactId, `${name}/${number}`);
      }
    }
    return points;
  }

  #length(wire: Node): number | null {
    const lengths = list(wire, 'Length_information');
    return lengths.length === 0 ? null : this.#quantity(one(lengths[0] as Node, 'Length_value'), 1);
  }

  /** @param perSi  our unit in SI units: 1 for m, 1e6 for mm2 */
  #quantity(value: Node | null, perSi: number): number | null {
    const number = value === null ? NaN : Number(text(value, 'Value_component') ?? NaN);
    if (value === null || !(number > 0)) return null;
    const unit = byId(list(this.#container, 'Unit')).get(text(value, 'Unit_component') ?? '');
    const name = unit === undefined ? '' : `${text(unit, 'Si_prefix') ?? ''} ${text(unit, 'Si_unit_name') ?? ''} ${text(unit, 'Si_dimension') ?? ''} ${text(unit, 'Unit_name') ?? ''}`.toLowerCase();
    const isMilli = name.includes('milli') || /\bmm2?\b/.test(name);
    if (perSi !== 1) return isMilli || unit === undefined ? number : number * perSi;
    return isMilli ? number / 1000 : number;
  }

  #colour(part: Node | undefined, name: string): string {
    const codes = part === undefined ? [] : list(part, 'Cover_colour').map((colour) => (text(colour, 'Colour_value') ?? '').toUpperCase());
    const joined = codes.join('');
    const isKnown = joined.length % 2 === 0 && (joined.match(/../g) ?? []).every((letters) => COLOURS[letters] !== undefined);
    if (!isKnown) this.#notes.push(`${name}: colour ${joined} is no code of IEC 60757, left out`);
    return isKnown ? joined : '';
  }
}

function pinOf(point: string): ChartPoint {
  const connector = point.slice(0, point.lastIndexOf('/'));
  return { ...guessPoint(point), kind: 'pin', jointOhms: USUAL_JOINT_OHMS.pin, connector };
}

function list(node: Node, name: string): Node[] {
  const value = node[name];
  const values = Array.isArray(value) ? (value as unknown[]) : value === undefined ? [] : [value];
  return values.filter((own): own is Node => typeof own === 'object' && own !== null);
}

function one(node: Node, name: string): Node | null {
  return list(node, name)[0] ?? null;
}

function text(node: Node, name: string): string | undefined {
  const value = node[name];
  return typeof value === 'string' && value.trim() !== '' ? value.trim() : undefined;
}

function id(node: Node): string | undefined {
  return text(node, '@id');
}

function byId(nodes: readonly Node[]): Map<string, Node> {
  return new Map(nodes.flatMap((node) => { const own = id(node); return own === undefined ? [] : [[own, node] as const]; }));
}
