/**
 * Drivers: meters of every kind, from an address to dated batches of readings. They import nothing of the rest of the
 * project. decoders/ (pure: bytes to readings), transports/ (how bytes arrive), simulated/ (a meter in software), identify/ and teach/ (which
 * decoder reads an unknown meter). Read meter.ts
 * and reading.ts first, then create-meter.ts.
 */
export { AddressError, placeOf, readAs } from './address.ts';
export { createMeter, isByteMeter, isForwardedMeter, isSimulatedMeter } from './create-meter.ts';
export { identifyAddress, identifyMeter, identifyPort } from './identify/index.ts';
export { LINK_TROUBLES } from './link-trouble.ts';
export { layoutFolder } from './json-folder.ts';
export { NULL_READINGS, nullLeads } from './lead-null.ts';
export { meterIdentity } from './meter-identity.ts';
export * from './reading.ts';
export { findFrames, markBytes, teachFrames, teachText, withFrames } from './teach/index.ts';
export { FrameDecoder, LAYOUTS, parseFrameLayout, parseLayout, TextLineDecoder, textOptions } from './decoders/index.ts';
export { addressOfPort, listPorts, matchPort, watchPorts } from './transports/ports.ts';
export { monotonicClock } from './transports/transport.ts';
export { drift, edgesWithin, isWithin, level, opening, openSchedule, ripple, SimulatedInstrument, sum } from './simulated/index.ts';

export type { ForwardedMeter, MeterOptions, SimulatedMeter } from './create-meter.ts';
export type { Guess, Identification, IdentifyPortOptions, IdentifyProgress, RatedGuess } from './identify/index.ts';
export type { LinkCode } from './link-trouble.ts';
export type { ByteMeter, LinkCounts, LinkState, LinkStatus, Meter, MeterListener, MeterTraits, ReadingBatch } from './meter.ts';
export type { InstrumentOptions, Interval, OpenScheduleOptions, SimulatedReading, SimulatedSignal } from './simulated/index.ts';
export type { FrameLayout, Layout, ParsedLayout, TextLayout, TextLineOptions } from './decoders/index.ts';
export type { FolderContents, JsonFolder } from './json-folder.ts';
export type { LeadNull } from './lead-null.ts';
export type { CapturedChunk, FramesFound, Taught, TaughtText, TeachExample, TextExample } from './teach/index.ts';
export type { PlayedReading } from './playback.ts';
export type { ForwardedLink } from './transports/forwarded.ts';
export type { PortIdentity, PortList, PortListing, PortMatch } from './transports/ports.ts';
export type { Clock } from './transports/transport.ts';
