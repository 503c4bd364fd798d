// Exact numbers on the phone, as engineering.exact has them on the server: what is judged is never rounded. A number is a
// quotient of two whole numbers without end; it is read and written as text, a decimal or a quotient of two.

const gcd = (a, b) => {
  while (b) [a, b] = [b, a % b];
  return a;
};
const size = (whole) => (whole < 0n ? -whole : whole);
const floor = (above, below) => above / below - (above % below < 0n ? 1n : 0n); // below is above nought

export class Fraction {
  constructor(above, below = 1n) {
    if (below === 0n) throw new RangeError("nothing can be divided by zero");
    const shared = gcd(size(above), size(below)) * (below < 0n ? -1n : 1n);
    Object.assign(this, { above: above / shared, below: below / shared });
    Object.freeze(this);
  }

  plus(other) {
    return new Fraction(this.above * other.below + other.above * this.below, this.below * other.below);
  }

  minus(other) {
    return new Fraction(this.above * other.below - other.above * this.below, this.below * other.below);
  }

  times(other) {
    return new Fraction(this.above * other.above, this.below * other.below);
  }

  over(other) {
    return new Fraction(this.above * other.below, this.below * other.above);
  }

  // Below nought, nought or above it, as this is less than the other, the same or more.
  compare(other) {
    const left = this.above * other.below;
    const right = other.above * this.below;
    return left < right ? -1 : left > right ? 1 : 0;
  }

  get negated() {
    return new Fraction(-this.above, this.below);
  }

  get size() {
    return new Fraction(size(this.above), this.below);
  }

  get sign() {
    return this.above < 0n ? -1 : this.above > 0n ? 1 : 0;
  }

  get isWhole() {
    return this.below === 1n;
  }
}

export const whole = (number) => new Fraction(BigInt(number));
export const NOUGHT = whole(0);
export const smaller = (a, b) => (a.compare(b) <= 0 ? a : b);
export const larger = (a, b) => (a.compare(b) >= 0 ? a : b);

const GRAMMAR = /^(-?)([0-9]{1,40})(?:\.([0-9]{1,40}))?(?:\/([0-9]{1,40}))?$/;

// Reads the stored grammar: plain digits, a point, at most one quotient stroke. Throws RangeError for anything else.
export function parseExact(text) {
  const [, minus, digits, decimals = "", below = "1"] = text.match(GRAMMAR) ?? [];
  if (digits === undefined) throw new RangeError(`not an exact number: ${text}`);
  const above = BigInt(digits + decimals) * (minus ? -1n : 1n);
  return new Fraction(above, BigInt(below) * 10n ** BigInt(decimals.length));
}

// Writes a number so that parseExact gives it back: a decimal if that is finite, else a quotient.
export function exactText(value) {
  const places = finitePlaces(value);
  return places === null ? `${value.above}/${value.below}` : fixed(value, places);
}

// Rounds to decimal places: "nearest" (halves away from nought), "up" or "down" along the number line.
export function rounded(value, places, toward = "nearest") {
  const scale = 10n ** BigInt(places);
  const above = value.above * scale;
  const { below } = value;
  let near;
  if (toward === "down") near = floor(above, below);
  else if (toward === "up") near = -floor(-above, below);
  else {
    near = (2n * size(above) + below) / (2n * below);
    if (above < 0n) near = -near;
  }
  return new Fraction(near, scale);
}

// Writes for people: all decimals if there are at most `most`, else rounded to `most`; at least `least`.
export function shown(value, most = 4, { least = 0, toward = "nearest" } = {}) {
  const places = finitePlaces(value);
  if (places === null || places > most) return fixed(rounded(value, most, toward), most);
  return fixed(value, Math.max(places, least));
}

// Writes a limit for people, never laxer than it is: a lower bound is rounded up, an upper one down. With the value
// beside it, as many decimals are shown as are needed for the two to stand in their true order.
export function shownBound(bound, value, { low, least = 0 }) {
  const toward = low ? "up" : "down";
  if (value !== null)
    for (let most = 3; most < 12; most += 1) {
      const near = rounded(bound, most, toward);
      if (value.compare(bound) === value.compare(near)) return shown(near, most, { least: Math.min(least, most) });
    }
  return shown(bound, 3, { least, toward });
}

// How many decimals a finite number has, at most `most`.
export function decimalsOf(value, most = 4) {
  const places = finitePlaces(value);
  return places === null ? most : Math.min(places, most);
}

const DIGITS = 28;

// The value with 28 significant digits, halves to the even digit: `value` to compare by, `text` as it is recorded.
export function asDecimal(value) {
  const places = finitePlaces(value);
  if (places !== null && fixed(value, places).replace(/^-?0?\.?0*|\./g, "").length <= DIGITS)
    return { value, text: fixed(value, places) };
  const { above, below } = value.size;
  // The power of ten of the first digit, from the lengths of both, and one less where that is too much.
  let power = String(above).length - String(below).length;
  if (compareTo(above, below, power) < 0) power -= 1;
  let shift = DIGITS - 1 - power;
  let near = halfEven(shift < 0 ? above : above * 10n ** BigInt(shift), shift < 0 ? below * 10n ** BigInt(-shift) : below);
  if (String(near).length > DIGITS) [near, shift] = [near / 10n, shift - 1];
  near *= BigInt(value.sign);
  if (shift <= 0) {
    const all = near * 10n ** BigInt(-shift);
    return { value: new Fraction(all), text: String(all) };
  }
  const found = new Fraction(near, 10n ** BigInt(shift));
  return { value: found, text: fixed(found, shift) };
}

const compareTo = (above, below, power) => {
  const [left, right] = power < 0 ? [above * 10n ** BigInt(-power), below] : [above, below * 10n ** BigInt(power)];
  return left < right ? -1 : 1;
};

function halfEven(above, below) {
  const down = above / below;
  const twice = 2n * (above % below);
  return twice > below || (twice === below && down % 2n) ? down + 1n : down;
}

// The decimals of a finite decimal number; null when it has no end.
function finitePlaces(value) {
  let [rest, twos, fives] = [value.below, 0, 0];
  while (rest % 2n === 0n) [rest, twos] = [rest / 2n, twos + 1];
  while (rest % 5n === 0n) [rest, fives] = [rest / 5n, fives + 1];
  return rest === 1n ? Math.max(twos, fives) : null;
}

function fixed(value, places) {
  const near = rounded(value, places);
  const all = (near.above * 10n ** BigInt(places)) / near.below;
  const digits = String(size(all)).padStart(places + 1, "0");
  const minus = all < 0n ? "-" : "";
  return places ? `${minus}${digits.slice(0, -places)}.${digits.slice(-places)}` : `${minus}${digits}`;
}
