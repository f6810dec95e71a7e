/** The rows of the table of figures, in its order, and how each is said from what its bench gave. */
import { numberAt as n, partsAt, resultAt } from './report.ts';
import type { Figure } from './report.ts';

const count = (value: number): string => value.toLocaleString('en-US', { maximumFractionDigits: 0 });
const short = (value: number, digits = 2): string => (value >= 1000 ? count(value) : String(Number(value.toPrecision(digits))));
const percent = (share: number, digits = 3): string => `${Number((100 * share).toPrecision(digits))} %`;
const span = (values: readonly number[], digits = 2): string => `${short(Math.min(...values), digits)} to ${short(Math.max(...values), digits)}`;
const spanPercent = (shares: readonly number[]): string => `${percent(Math.min(...shares))} to ${percent(Math.max(...shares))}`;
const numbers = (r: unknown, path: readonly string[], ...inner: readonly string[]): number[] => partsAt(r, ...path).map(([, part]) => (inner.length === 0 ? n({ part }, 'part') : n(part, ...inner)));
const listed = (values: readonly string[]): string => values.join(', ');

/** A point of a curve of the bench of detection: "0.74 at 0.007". */
function pointOf(r: unknown, way: string, setting: number): string {
  const curve = partsAt(r, 'detection', 'pooled').map(([, one]) => one).find((one) => resultAt(one, 'way') === way);
  const point = partsAt(curve, 'points').map(([, one]) => one).find((one) => n(one, 'setting') === setting);
  return `${short(n(point, 'recall'))} at ${short(n(point, 'falseAlarmsPerHour'))}`;
}

const ZONE_CASES = [['strong coupling (0.8)', 'neighbours that move almost as much (0.8)'], ['dropouts in bursts of two', 'dropouts in pairs'], ['slower than assumed (1.7 +/- 0.8 s)', 'a slower hand (1.7 +/- 0.8 s)']] as const;
const STATED = 'as stated';

export const FIGURES: readonly Figure[] = [
  {
    topic: 'sharing', figure: 'a change to the last of 4 shared screens, 8 meters', isTimed: true,
    say: (r) => `median ${short(n(r, 'lastScreenMs', 'median'))} ms, 95 % within ${short(n(r, 'lastScreenMs', 'p95'), 3)} ms, ${percent(n(r, 'within100ms'))} within 100 ms; a bare ping ${short(n(r, 'barePingMs', 'median'))} ms, 95 % within ${short(n(r, 'barePingMs', 'p95'))} ms`,
  },
  {
    topic: 'chirp', figure: 'first bad reading to the call for the chirp, 4 browsers that draw in software and 8 meters', isTimed: true,
    say: (r) => `median ${short(n(r, 'firstBadReadingToChirpMs', 'median'), 3)} ms, 95 % within ${short(n(r, 'firstBadReadingToChirpMs', 'p95'), 3)} ms; ${n(r, 'missed')} of ${n(r, 'dropouts') * n(r, 'browsers')} not heard in time`,
  },
  {
    topic: 'path', figure: 'byte on the pty to frame at a websocket client, 100 readings/s (aim: 10 ms)', isTimed: true,
    say: (r) => `median ${short(n(r, 'latency', 'p50_ms'))} ms; 99 % within ${short(n(r, 'latency', 'p99_ms'))} ms`,
  },
  {
    topic: 'path', figure: 'port, decoder, detector, recording and hub together', isTimed: true,
    say: (r) => `${count(n(r, 'throughput', 'lines_per_s'))} lines/s; ${count(n(r, 'throughput', 'recorded'))} of ${count(n(r, 'throughput', 'lines'))} recorded`,
  },
  {
    topic: 'detector', figure: 'visible dropouts found (aim: 99.9 %)',
    say: (r) => `${count(n(r, 'detection', 'found'))} of ${count(n(r, 'detection', 'visible'))}, ${partsAt(r, 'detection', 'kinds').length} kinds of stream`,
  },
  {
    topic: 'detector', figure: 'false alarms in clean hours (aim: 0.01 an hour)',
    say: (r) => `${n(r, 'detection', 'cleanFalseAlarms')} in ${count(n(r, 'detection', 'cleanHours'))}: ${short(n(r, 'detection', 'falseAlarmsPerCleanHour'))} an hour`,
  },
  { topic: 'detector', figure: 'start of a dropout, median error', say: (r) => `${short(n(r, 'detection', 'startErrorMedianIntervals'))} of an interval` },
  {
    topic: 'detector', figure: 'steady reading after settling, at 1 to 5, 5 to 50, 50 to 1,000 readings/s',
    say: (r) => {
      const of = (...path: readonly string[]): string => listed(numbers(r, ['steadiness'], ...path).map((value) => short(value)));
      return `held after ${of('holdTimeAfterSettling', 'median')} s (median), ${of('holdTimeAfterSettling', 'p99')} s (99 %); error ${of('errorInCountsOrNoise', 'p99')} of a count or the noise (99 %)`;
    },
  },
  {
    topic: 'detector', figure: 'samples through the whole judge at 1,000, 10,000, 100,000 readings/s (aim: 20 million/s)', isTimed: true,
    say: (r) => partsAt(r, 'speed').map(([, part]) => `${short(n(part, 'millionSamplesPerSecond'))} (${short(n(part, 'slowest'))} to ${short(n(part, 'fastest'))} by noise)`).join(', ') +
      ` million/s, ${listed(numbers(r, ['speed'], 'timesRunningMean').map((value) => short(value)))} times a running mean`,
  },
  {
    topic: 'detector', figure: 'pooled recall at false alarms an hour: ours, and textbook ways on the same streams',
    say: (r) => `ours ${listed([0.01, 1, 30].map((budget) => pointOf(r, 'this detector', budget)))}; half level ${pointOf(r, 'part of the level', 0.5)}; 3 sigma ${pointOf(r, 'k sigma', 3)}; CUSUM h = 5 ${pointOf(r, 'tabular CUSUM', 5)}; median + MAD (5) ${pointOf(r, 'rolling median and MAD', 5)}`,
  },
  {
    topic: 'detector', figure: 'points of the textbook ways that no setting of ours matches, by more than chance (aim: none)',
    say: (r) => `${partsAt(r, 'detection', 'dominated').length} of ${count(n(r, 'detection', 'textbookPoints'))}; ${partsAt(r, 'detection', 'aheadWithoutBeingSure').length} more without being sure`,
  },
  {
    topic: 'visibility', figure: 'chance of catching (aim: 0.02)',
    say: (r) => {
      const all = (key: string): number[] => numbers(r, ['caughtByTheJudge'], key);
      const total = (key: string): string => count(all(key).reduce((sum, one) => sum + one, 0));
      return `formula against simulated meters: worst of 300 ${short(Math.max(...numbers(r, ['catchChance'], 'worstDifference')))}; stated for a take against what the whole judge caught: worst of ${total('meters')} meters ${short(Math.max(...all('worstDifference')))} outside (own error ${short(Math.max(...all('simulationsOwnError')))}); ` +
        `of ${total('takes')} takes ${total('sharpTakes')} state one number: median difference ${span(all('sharpMedianDifference'))}, worst ${short(Math.max(...all('sharpWorstDifference')))}; the others, on coarse displays, a lowest and a highest chance; worst take ${short(Math.max(...all('worstTakeBeyond')))} outside (own error ${short(Math.max(...all('ownErrorOfATake')))})`;
    },
  },
  {
    topic: 'visibility', figure: 'length of a dropout, 95 % interval covers (aim: 93 to 97 %)',
    say: (r) => `${percent(n(r, 'lengthOfADropout', 'all', 'covered'))} of ${count(n(r, 'lengthOfADropout', 'all', 'dropouts'))}; ${spanPercent(numbers(r, ['lengthOfADropout', 'byKind'], 'covered'))} by kind of meter, ${spanPercent(numbers(r, ['lengthOfADropout', 'byDecade'], 'covered'))} by decade; through the whole judge ${spanPercent(numbers(r, ['lengthOnStreams'], 'covered'))} by kind of stream`,
  },
  {
    topic: 'visibility', figure: 'aperture from 100 taps: limits hold (aim: 95 %)',
    say: (r) => `${spanPercent(numbers(r, ['apertureFrom100Edges'], 'held'))}; root mean square error at most ${short(Math.max(...numbers(r, ['apertureFrom100Edges'], 'rootMeanSquareError')))} of the interval`,
  },
  {
    topic: 'zones', figure: 'zone named at 0.95 is right (aim: 95 %)',
    say: (r) => `${percent(n(r, STATED, 'right'))} (highest rate at the same moment: ${percent(n(r, STATED, 'highestRateRightThen'))}); ${ZONE_CASES.map(([name, said]) => `${said}: ${percent(n(r, name, 'right'))} (${percent(n(r, name, 'highestRateRightThen'))})`).join('; ')}`,
  },
  {
    topic: 'zones', figure: 'dropouts that naming a zone takes',
    say: (r) => `median ${n(r, STATED, 'dropoutsNeeded', 'median')}, nine in ten within ${n(r, STATED, 'dropoutsNeeded', 'ninetiethPercentile')}; ${ZONE_CASES.map(([name, said]) => `${said}: ${n(r, name, 'dropoutsNeeded', 'median')}`).join('; ')}. The highest rate alone is right in 95 % after ${String(resultAt(r, STATED, 'highestRateNeedsFor95Percent'))}`,
  },
  {
    topic: 'zones', figure: 'expected calibration error of the chances of zones (aim: 0.03)',
    say: (r) => `${short(n(r, STATED, 'expectedCalibrationError'))}; ${ZONE_CASES.map(([name, said]) => `${said}: ${short(n(r, name, 'expectedCalibrationError'))}`).join('; ')}`,
  },
  {
    topic: 'statistics', figure: 'useless repair called good (aim: 5 %)',
    say: (r) => `at most ${percent(Math.max(...numbers(r, ['limits', 'useless repair called good at 5 % (at most 0.05)'])))}`,
  },
  {
    topic: 'statistics', figure: 'truth above a limit stated at 95 %, per hour and per flex',
    say: (r) => `at most ${percent(Math.max(...numbers(r, ['limits', 'truth above the hourly limit (at most 0.05)'])))} and ${percent(Math.max(...numbers(r, ['limits', 'truth above the limit per flex (at most 0.05)'])))}`,
  },
  {
    topic: 'statistics', figure: 'marks without a link called linked at 5 %',
    say: (r) => {
      const rows = partsAt(r, 'roadAssociation').filter(([name]) => name.startsWith('no link'));
      return `${spanPercent(rows.map(([, row]) => n(row, 'atFivePercent')))}, clusters and a slow common factor included`;
    },
  },
  {
    topic: 'statistics', figure: 'value at its limit passed (aim: 2.5 %)',
    say: (r) => spanPercent(partsAt(r, 'wrongPassAtTheLimit').filter(([name]) => name.startsWith('value at the limit')).map(([, share]) => n({ share }, 'share'))),
  },
  {
    topic: 'decoders', figure: 'session clock over jittery links: median error, against arrival times',
    say: (r) => `at most ${short(Math.max(...numbers(r, ['dating'], 'median_error_intervals')))} of an interval, at least ${short(Math.min(...numbers(r, ['dating'], 'times_better_than_arrival')))} times better, ${partsAt(r, 'dating').length} links`,
  },
  {
    topic: 'links', figure: 'unplug and replug',
    say: (r) => `${n(r, 'cycles')} times: ${n(r, 'readings_lost_outside_gaps')} readings lost outside the gaps; back after ${short(n(r, 'reconnect_s', 'median'))} s median, ${short(n(r, 'reconnect_s', 'longest'))} s at the longest; ${n(r, 'open_files_more')} files left open; memory after collecting by halves ${listed(numbers(r, ['memory_more_mb_by_halves']).map(String))} MB more`,
  },
  {
    topic: 'links', figure: 'eight meters at 2 to 100 readings/s on one axis',
    say: (r) => {
      const farthest = (key: string): string => short(Math.max(...numbers(r, ['eight_meters', key]).map(Math.abs)));
      return `none further than ${farthest('off_the_common_axis_ms')} ms from the common one (by arrival ${farthest('by_arrival_ms')} ms)`;
    },
  },
  {
    topic: 'decoders', figure: 'decoders against splitter, regular expression and Number() on the same bytes (which read no binary frame)',
    say: (r) => partsAt(r, 'throughput').map(([name, row]) => `${name} ${n(row, 'read_by_the_plain_way') > 0 ? `${short(n(row, 'times_the_plain_way'))} of it` : 'read by ours alone'} (${short(n(row, 'readings_per_s') / 1e6)} million readings/s)`).join('; '),
  },
  {
    topic: 'recordings', figure: 'size against Parquet v2 with zstd 19, same columns',
    say: (r) => `${span(numbers(r, ['bytes_a_sample'], 'ratio_to_parquet_v2_zstd19_same_columns'))} of it (${span(numbers(r, ['bytes_a_sample'], 'bytes_a_sample'), 3)} bytes a sample), ${partsAt(r, 'bytes_a_sample').length} streams; ${span(numbers(r, ['bytes_a_sample'], 'ratio_to_gzip_csv'))} of gzip CSV`,
  },
  { topic: 'recordings', figure: 'append with full synchronisation, sealing and overview', isTimed: true, say: (r) => `${count(n(r, 'append', 'samples_a_second'))} samples/s` },
  {
    topic: 'recordings', figure: 'lost on kill -9, 10 to 100,000 samples/s', isTimed: true,
    say: (r) => `${n(r, 'kills', 'kills')} kills: median ${short(n(r, 'kills', 'lost_ms', 'median'))} ms, 99 % within ${short(n(r, 'kills', 'lost_ms', 'p99'), 3)} ms, at most ${short(n(r, 'kills', 'lost_ms', 'max'), 3)} ms; ${partsAt(r, 'kills', 'damaged_or_not_a_prefix_or_acknowledged_and_missing').length} damaged or missing what was acknowledged`,
  },
  {
    topic: 'recordings-long', figure: '100 million samples: any window in 1,500 columns, in the reader, nothing kept from before (processor time)',
    say: (r) => `median ${short(n(r, 'overview', 'all_windows_processor_ms', 'median'))} ms, at most ${short(n(r, 'overview', 'all_windows_processor_ms', 'max'))}; at most ${count(Math.max(...numbers(r, ['overview', 'by_window'], 'most_points')))} points; one-sample dropouts in the whole at once: ${n(r, 'dropouts', 'shown_in_the_whole')} of ${n(r, 'dropouts', 'recorded')}`,
  },
  {
    topic: 'recordings-long', figure: 'the same windows by DuckDB over the same samples in Parquet',
    say: (r) => `${span(numbers(r, ['overview', 'by_window'], 'duckdb_ms_over_ours'))} times as long`,
  },
  {
    topic: 'recordings-long', figure: 'opening that session; from the click on its take to the trace in a browser', isTimed: true,
    say: (r) => `${short(n(r, 'open', 'contents_ms', 'median'))} ms; ${short(n(r, 'click_to_first_paint_ms', 'median'))} ms, at most ${short(n(r, 'click_to_first_paint_ms', 'max'))}`,
  },
  {
    topic: 'recordings-long', figure: 'memory of the service (resident set; other Node processes share 43 MB of it) while recording 8 meters at 10,000/s each and reviewing that session', isTimed: true,
    say: (r) => `at most ${n(r, 'recording_and_reviewing', 'largest_mb', 'rss')} MB; ${n(r, 'recording_and_reviewing', 'idle_mb', 'rss')} MB idle`,
  },
  {
    topic: 'circuit', figure: 'circuit model against a circuit simulator, random charts',
    say: (r) => `largest difference ${percent(n(r, 'largestRelativeDifference'), 1)}, ${count(n(r, 'readings'))} readings on ${n(r, 'charts')} charts`,
  },
  {
    topic: 'locate', figure: 'faulty span first, random harnesses',
    say: (r) => `${percent(n(r, 'planned', 'right'))} of ${count(n(r, 'planned', 'cases'))}; calibration error ${short(n(r, 'calibrationErrorAtTheEnd'))}; minutes against halving ${short(n(r, 'minutesAgainstHalving'))}, against one by one ${short(n(r, 'minutesAgainstOneByOne'))}`,
  },
  { topic: null, figure: 'processor time at 114 and 488 spans: all checks of the chart; one search' },
  {
    topic: 'decoders', figure: 'unknown meters by listening only: rate, framing and values right',
    say: (r) => `${n(r, 'recognition', 'recognised')} of ${n(r, 'recognition', 'meters')}`,
  },
  {
    topic: 'decoders', figure: 'unknown frames taught',
    say: (r) => `${n(r, 'teaching', 'meters') - n(r, 'teaching', 'not_taught_in_16_examples')} of ${n(r, 'teaching', 'meters')}; median ${n(r, 'teaching', 'examples', 'median')} examples, at most ${n(r, 'teaching', 'examples', 'most')}; ${n(r, 'teaching', 'false_values')} later frames read wrong, ${n(r, 'teaching', 'some_marks_never_captured')} meters left some unread`,
  },
  {
    topic: 'decoders', figure: 'damaged frames read as a value (text has no check sum)',
    say: (r) => `${partsAt(r, 'damaged_frames').map(([name, row]) => `${name} ${percent(n(row, 'false_value_share'), 2)}`).join(', ')}; ${short(numbers(r, ['damaged_frames'], 'frames').reduce((sum, one) => sum + one, 0) / 1e6)} million`,
  },
];
