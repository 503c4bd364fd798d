// Text as the server takes it: what is blank, what is a digit, and sentences with named places in them.

// What Python takes for a blank, which is not all of what this language takes for one.
const BLANK = "[\\t-\\r\\x1c-\\x20\\x85\\xa0\\u1680\\u2000-\\u200a\\u2028\\u2029\\u202f\\u205f\\u3000]";
const ENDS = new RegExp(`^${BLANK}+|${BLANK}+$`, "gu");
const ONE = new RegExp(`^${BLANK}$`, "u");

export const strip = (text) => text.replace(ENDS, "");
export const isBlank = (sign) => ONE.test(sign);

// Signs that are digits and stand in no decimal number: superscripts, digits in circles and the like, as Unicode has them.
const ODD = new RegExp(
  "[\\xb2\\xb3\\xb9\\u1369-\\u1371\\u19da\\u2070\\u2074-\\u2079\\u2080-\\u2089\\u2460-\\u2468\\u2474-\\u247c\\u2488-\\u2490" +
    "\\u24ea\\u24f5-\\u24fd\\u24ff\\u2776-\\u277e\\u2780-\\u2788\\u278a-\\u2792\\u{10a40}-\\u{10a43}\\u{10e60}-\\u{10e68}" +
    "\\u{11052}-\\u{1105a}\\u{1f100}-\\u{1f10a}]",
  "u",
);
const DECIMAL = /\p{Nd}/u;

export const isDecimal = (sign) => DECIMAL.test(sign);
export const isDigit = (sign) => DECIMAL.test(sign) || ODD.test(sign);

// The value of a decimal digit of any script: they stand in rows of ten, from nought on.
export function decimalOf(sign) {
  let at = sign.codePointAt(0);
  let before = 0;
  while (at > 0 && DECIMAL.test(String.fromCodePoint(at - 1))) [at, before] = [at - 1, before + 1];
  return before % 10;
}

// "%(name)s" is a place for a value, "%%" a per cent sign.
export const fill = (sentence, values) =>
  sentence.replace(/%\((\w+)\)s|%%/g, (place, name) => (place === "%%" ? "%" : (values[name] ?? place)));
