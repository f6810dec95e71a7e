/** One of a few: a row of large targets that behaves as radio buttons do, because it is made of them. */
interface Props<T extends string | number> {
  readonly name: string;
  readonly label: string;
  readonly options: readonly T[];
  readonly value: T;
  readonly text: (option: T) => string;
  readonly onChoose: (option: T) => void;
}

export function Choice<T extends string | number>({ name, label, options, value, text, onChoose }: Props<T>) {
  return (
    <fieldset class="choice">
      <legend>{label}</legend>
      <div class="choice-row">
        {options.map((option) => (
          <label key={option}>
            <input type="radio" name={name} value={option} checked={option === value} onChange={() => onChoose(option)} />
            <span>{text(option)}</span>
          </label>
        ))}
      </div>
    </fieldset>
  );
}
