// Numbers of entries as words, some of them where there are many.
export function told(numbers) {
  const more = numbers.length > 6 ? ` and ${numbers.length - 6} more` : "";
  return `${numbers.length === 1 ? "entry " : "entries "}${numbers.slice(0, 6).join(", ")}${more}`;
}
