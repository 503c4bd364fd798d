// Counts and numbers of entries as words.

export const capital = (words) => words[0].toUpperCase() + words.slice(1);

export const counted = (number, one, more) => `${number} ${number === 1 ? one : more}`;

// Numbers of entries, some of them where there are many.
export function told(numbers) {
  const more = numbers.length > 6 ? ` and ${numbers.length - 6} more` : "";
  return `${numbers.length === 1 ? "entry " : "entries "}${numbers.slice(0, 6).join(", ")}${more}`;
}

export const between = (start, end) => (start === end ? `entry ${start}` : `entries ${start} to ${end}`);

// Which numbers so many entries carry: they begin at 0, so that the last one is not their count.
export function numbersOf(size) {
  if (!size) return "";
  return size === 1 ? " (number 0)" : ` (0 to ${size - 1})`;
}

export const numbered = (size) => `${counted(size, "entry", "entries")}${numbersOf(size)}`;

// The first so many entries, of so many.
export function first(size, of = null) {
  return `the first ${size === 1 ? "entry" : `${size} entries`}${numbersOf(size)}${of === null ? "" : ` of ${of}`}`;
}
