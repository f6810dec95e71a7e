/** Version of what judges: goes up whenever the same samples may be judged differently than before, with what is different. */
export const ALGORITHM = '17';

/** What each version judges differently from the one before it, as told to whoever opens an older recording. */
export const ALGORITHM_CHANGES: readonly { readonly version: string; readonly change: string }[] = [
  { version: '2', change: 'Noise and level are learned alike however the readings were cut on their way.' },
  { version: '3', change: 'The accuracy is that of the range in use, and leads that nobody nulled are allowed for in ohms.' },
  { version: '4', change: 'Heavy-tailed noise is told from dropouts with fewer false alarms, hum hides less, loads that change over are sags, and a moved sensor needs a jump both ways.' },
  { version: '5', change: 'A reading that had not settled after an unmarked range change is a gap, no dropout.' },
  { version: '6', change: 'A take is undecided when a part of it was on a wrong function of the meter, or behaved like a live circuit on ohms.' },
  { version: '7', change: 'Limits rest on what the take would have caught at all of its moments, not at the last one; dropouts in quick succession point to a zone as one.' },
  {
    version: '8',
    change: 'Smaller dropouts stand out: what comes back from a sag no longer counts as noise, nor does a single reading just beyond it; bursts raise the threshold while they last; ' +
      'a load that comes back beside a shared ground is no dropout.',
  },
  {
    version: '9',
    change: 'A dropout within the ten seconds after a lasting change is seen, with its own start; a break of a moved sensor that begins in the middle of a reading is, too, and the threshold there ' +
      'says what is certain to be found.',
  },
  {
    version: '10',
    change: 'After a load has gone off only a rise by as much as it took away counts as its coming back, and no rise back out of the limits; a rise to anywhere else is a departure. A single reading soon ' +
      'after such a step is no interference. On a coarse display noise is allowed for that the counts hide.',
  },
  { version: '11', change: 'On a coarse display the chance of catching a dropout is the lowest that fits what was shown, and limits rest on it.' },
  {
    version: '12',
    change: 'Noise that grows suddenly no longer takes back dropouts from before it. A fast movement of a sensor is known as such from its first readings, and contacts between its breaks are no noise. ' +
      'Where noise is heavier than normal, a dropout must stand out from it a little farther: normal noise and its tail may each use a tenth of the false alarms allowed. A dip ' +
      'after which the level was back where it had been is no change of loads, though a load should switch soon after. ' +
      'A step the good way that stands for a moment is no noise.',
  },
  {
    version: '13',
    change: 'How far heavy noise goes is told rightly from a display of few counts, where it was taken for less: fewer false dropouts, and a dropout must stand out from such noise farther. A load that goes off ' +
      'is not felt as noise, so that its coming back is known. A hand that moves a sensor on after an apparent break is no break, nor is a load whose noise alone reaches the depth of interest. Correlated noise that is heavier than normal is known as such earlier.',
  },
  { version: '14', change: 'What a departure must stand out from no longer depends on the moments at which a verdict was asked for meanwhile.' },
  { version: '15', change: 'The uncertainty of a level is that of the range on which it was read, not of the coarser range of an open that ends it.' },
  {
    version: '16',
    change: 'Small dropouts stand out sooner on a coarse display, whose noise is taken for normal while nothing speaks against it. A drop that falls to nothing for a moment is a load that was off, no noise.',
  },
  {
    version: '17',
    change: 'How a meter averages is learned from how its dropouts end, so that their lengths hold where it averages without saying so. The readings that a dropout begins and ends in count for its length. ' +
      'Where an open lifts the reading to the supply or beyond the display, its length allows for not knowing how far. ' +
      'A contact that chatters while a sensor is moved is taken neither for noise nor for a fast hand: what breaks later is seen better. ' +
      'Several shallow dips in quick succession, of two readings at most each, are a dropout and no sag. An open upon a change that goes back ' +
      'within ten seconds, and is next to nothing against it, is a dropout of its own.',
  },
];
