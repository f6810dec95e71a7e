/**
 * The demo scenario, invented: orchard work platform "Alder 7", 12 V. The conveyor clutch and the
 * work lamp die together as the gantry folds.
 */
import type { Chart, ChartSpan, SpanExposure } from '../session/chart.ts';

function span(from: string, to: string, length: number, crossSection: number, colour: string, route: string, exposures: readonly SpanExposure[]): ChartSpan {
  return { id: `${from} to ${to}`, from, to, length, crossSection, colour, route, exposures };
}

const spans: readonly ChartSpan[] = [
  span('B+', 'F4/1', 0.6, 2.5, 'RD', 'battery tray to fuse box', ['heat']),
  span('F4/2', 'K1/30', 0.3, 2.5, 'RD', 'inside the fuse box', []),
  span('K1/87', 'C1/3', 2.4, 2.5, 'RDYE', 'frame rail, left', ['abrasion']),
  span('C1/3', 'C2/1', 1.8, 2.5, 'RDYE', 'over the gantry hinge', ['flex']),
  span('C2/1', 'CL+', 1.1, 1.5, 'RDYE', 'gantry to conveyor clutch', ['damp']),
  span('C2/1', 'LP+', 0.9, 0.75, 'RDYE', 'gantry to work lamp', ['damp']),
  span('CL-', 'S3', 0.9, 1.5, 'BK', 'gantry to conveyor clutch', ['damp']),
  span('LP-', 'S3', 0.7, 0.75, 'BK', 'gantry to work lamp', ['damp']),
  span('S3', 'C2/4', 0.5, 2.5, 'BK', 'gantry, in the loom', ['flex', 'damp']),
  span('C2/4', 'C1/6', 1.8, 2.5, 'BK', 'over the gantry hinge', ['flex']),
  span('C1/6', 'G2', 0.8, 2.5, 'BK', 'frame rail, left, to the ground stud', ['damp']),
  span('G2', 'B-', 0.8, 16, 'BK', 'ground stud to battery tray', ['damp']),
];

export const alder7Chart: Chart = {
  name: 'Alder 7: conveyor clutch and work lamp',
  systemVoltage: 12,
  points: [
    { id: 'B+', kind: 'post', jointOhms: 0, accessMinutes: 0.5, panel: 'battery cover' },
    { id: 'F4/1', kind: 'blade', jointOhms: 0, accessMinutes: 0.5, panel: 'fuse box lid' },
    { id: 'F4/2', kind: 'blade', jointOhms: 0, accessMinutes: 0.5, panel: 'fuse box lid' },
    { id: 'K1/30', kind: 'contact', jointOhms: 0, accessMinutes: 1, panel: 'fuse box lid' },
    { id: 'K1/87', kind: 'contact', jointOhms: 0, accessMinutes: 1, panel: 'fuse box lid' },
    { id: 'C1/3', kind: 'pin', connector: 'C1', jointOhms: 0, accessMinutes: 1, panel: 'rail cover' },
    { id: 'C1/6', kind: 'pin', connector: 'C1', jointOhms: 0, accessMinutes: 1, panel: 'rail cover' },
    { id: 'C2/1', kind: 'pin', connector: 'C2', jointOhms: 0.004, accessMinutes: 1.5, panel: 'gantry cover' },
    { id: 'C2/4', kind: 'pin', connector: 'C2', jointOhms: 0.004, accessMinutes: 1.5, panel: 'gantry cover' },
    { id: 'CL+', kind: 'terminal', jointOhms: 0, accessMinutes: 2 },
    { id: 'CL-', kind: 'terminal', jointOhms: 0, accessMinutes: 2 },
    { id: 'LP+', kind: 'terminal', jointOhms: 0, accessMinutes: 2 },
    { id: 'LP-', kind: 'terminal', jointOhms: 0, accessMinutes: 2 },
    { id: 'S3', kind: 'splice', jointOhms: 0, accessMinutes: 12, panel: 'gantry cover' },
    // Two rings under one nut: together 1 milliohm.
    { id: 'G2', kind: 'stud', jointOhms: 0.0005, accessMinutes: 2 },
    { id: 'B-', kind: 'post', jointOhms: 0, accessMinutes: 0.5, panel: 'battery cover' },
  ],
  panels: [
    { id: 'battery cover', minutes: 1 },
    { id: 'fuse box lid', minutes: 1 },
    { id: 'rail cover', minutes: 6 },
    { id: 'gantry cover', minutes: 8 },
  ],
  spans,
  components: [
    { id: 'battery', kind: 'battery', name: 'battery', from: 'B+', to: 'B-', volts: 12.5, ohms: 0 },
    { id: 'F4', kind: 'fuse', name: 'fuse F4', from: 'F4/1', to: 'F4/2', amps: 15, ohms: 0.006 },
    { id: 'K1', kind: 'contact', name: 'relay K1 contact', from: 'K1/30', to: 'K1/87', ohms: 0.01 },
    { id: 'CL', kind: 'load', name: 'conveyor clutch', from: 'CL+', to: 'CL-', ohms: 3 },
    { id: 'LP', kind: 'load', name: 'work lamp', from: 'LP+', to: 'LP-', ohms: 7, coldOhms: 0.7 },
  ],
  circuits: [{
    id: 'clutch and lamp',
    name: 'Conveyor clutch and work lamp',
    parts: [...spans.map((own) => own.id), 'battery', 'F4', 'K1', 'CL', 'LP'],
    working: 'key on, clutch and lamp on',
  }],
};
