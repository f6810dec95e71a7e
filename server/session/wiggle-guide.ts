/** Zones and pacing of wiggle takes: which are there, and which one it is now. Pure: the caller brings the time. */
import type { ZoneReport } from '../diagnosis/zones.ts';
import type { Chart } from './chart.ts';
import { zonesAlong } from './harness-zones.ts';
import { paceZones } from './pacing.ts';
import type { Pace } from './pacing.ts';
import type { Check } from './session.ts';

export class WiggleGuide {
  #named: readonly string[] = [];
  #paceSeconds: number | null = null;
  #pace: Pace | null = null;

  /** Time in each zone, s; null when the operator goes by own choice. */
  get paceSeconds(): number | null {
    return this.#paceSeconds;
  }

  get pace(): Pace | null {
    return this.#pace;
  }

  /** Names given by the operator; empty: those of the chart. */
  nameZones(zones: readonly string[]): void {
    this.#named = [...new Set(zones)];
    this.#pace = null;
  }

  zones(chart: Chart | null, check: Check): readonly string[] {
    return this.#named.length > 0 || chart === null ? this.#named : zonesAlong(chart, check);
  }

  setPace(seconds: number | null): void {
    this.#paceSeconds = seconds;
    this.#pace = null;
  }

  /** Nothing is left to pace: its end. @returns whether it went on until now */
  endPace(): boolean {
    const wasPaced = this.#paceSeconds !== null;
    this.setPace(null);
    return wasPaced;
  }

  /** The plan begins anew: a take began, or the hands were off. */
  restart(): void {
    this.#pace = null;
  }

  /** @param report  asked for only when a new step is due @returns the zone to flex now, null when nothing is paced */
  step(zones: readonly string[], now: number, report: () => ZoneReport | null): string | null {
    if (this.#paceSeconds === null) return null;
    const isDue = this.#pace === null || now >= this.#pace.until;
    this.#pace = paceZones(zones, this.#paceSeconds, this.#pace, now, isDue ? report()?.flexNext ?? null : null);
    return this.#pace?.zone ?? null;
  }
}

