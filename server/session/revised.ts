/**
 * Something that several people may edit at once: every change says which revision it is based on, and one that is based on an
 * older revision is turned away, so that nobody's edit is silently overwritten. Pure.
 */
export class Revised<Value> {
  #value: Value;
  #revision: number;

  /** @param revision  to begin with: above every one that somebody may still hold */
  constructor(value: Value, revision = 1) {
    this.#value = value;
    this.#revision = revision;
  }

  get value(): Value {
    return this.#value;
  }

  /** Counts the changes. */
  get revision(): number {
    return this.#revision;
  }

  /** @returns false, and nothing is changed, when somebody else changed it since revision `basedOn` */
  change(basedOn: number, value: Value): boolean {
    if (basedOn !== this.#revision) return false;
    this.#value = value;
    this.#revision++;
    return true;
  }

  /** A change that overwrites nobody's words: it leaves the revision as it is. */
  amend(value: Value): void {
    this.#value = value;
  }
}
