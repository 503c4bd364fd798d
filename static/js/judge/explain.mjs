// Sentences for people, by code, word for word those of engineering.explain: why a reading has its verdict, and what its
// limit is.

import { fill } from "./text.mjs";

export const SENTENCES = {
  ok: "%(value)s is within the limit (%(limit)s).",
  watch: "%(value)s is within the limit (%(limit)s) but past the point from which it is watched.",
  gauge: "%(value)s is so near the limit (%(limit)s) that the gauge could hide it.",
  caution: "%(value)s is past the caution (%(limit)s).",
  past: "%(value)s is past the limit (%(limit)s).",
  sound: "Found sound.",
  "mark-watch": "To be watched.",
  "mark-caution": "Found defective; a caution only.",
  defect: "Found defective.",
  "reading-missing": "Nothing was entered.",
  "not-done": "Not done.",
  "mark-unreadable": "%(value)s is neither sound nor defective.",
  kind: "This item asks for a %(asked)s, and a %(given)s was entered.",
  unit: "The limit is in %(limit_unit)s and the reading in %(unit)s.",
  "not-whole": "%(value)s is not a count.",
  impossible: "%(value)s cannot be. Measure again, and have the register checked.",
  "no-limit": "No limit is entered for this item.",
  "no-rule-applies": "None of the limits of this item applies to this part.",
  "fact-missing": "%(name)s is not entered.",
  "fact-unreadable": "%(name)s cannot be used as entered: %(value)s.",
  "beyond-table": "%(name)s lies beyond the end of the table.",
  "date-ahead": "The date %(date)s lies after the day of the inspection, %(day)s.",
  "dates-contradict": "The register contradicts itself: %(name)s lies before %(other_name)s.",
};

export const LIMITS = {
  "at-most": "at most %(high)s",
  "less-than": "less than %(high)s",
  "at-least": "at least %(low)s",
  "more-than": "more than %(low)s",
  between: "%(low)s to %(high)s",
  inside: "more than %(low)s and less than %(high)s",
  exactly: "exactly %(high)s",
  until: "until %(high)s",
  before: "before %(high)s",
  "no-defect": "no defect",
};

export const FACT_NAMES = {
  day: "The day of the inspection",
  gauge_u: "The uncertainty of the gauge",
  nominal: "The nominal dimension of this part",
  baseline: "The baseline of this part",
  reference: "The reference value for today",
  rope_class: "Whether this rope is a standing or a running rope",
  rotation_resistant: "Whether this rope is rotation-resistant",
  stranded: "Whether this rope has strands",
  lay: "The lay of this rope",
  rope_core: "The core of this rope",
  wires_total: "The number of wires of this rope",
  wires_load: "The number of wires of this rope without filler wires",
  wires_strand: "The number of wires of one strand",
  iso_row_wires: "The number n of load-bearing outer wires from the certificate",
  outer_wire: "The diameter of the outer wires",
  rope_diameter: "The diameter of the rope",
  mbf_kn: "The breaking force of the rope with its ends",
  clip_type: "The type of clip",
  required_torque: "The torque that the maker requires",
  primary_brake: "The kind of primary brake",
  emergency_brake: "Whether an emergency brake is in service",
  engineered_landing: "Whether the landing was engineered for this speed",
  annual_extension: "Whether the regulator extended the yearly inspection",
  stroke_available: "The available brake travel",
  solid_travel: "The travel until the coils touch",
  max_cycles: "The maker's maximum number of cycles",
  register_count: "The number in the register",
  test_weight: "The certified test weight",
  expected_load: "The expected load of the anchor",
  original_kn: "The strength of the part replaced",
  made: "The date of manufacture",
  purchased: "The date of purchase",
  first_use: "The date of first use",
  fitted: "The date of fitting",
  last_inspection: "The date of the last inspection",
  last_done: "The date when it was last done",
  reading: "The date on the label",
};

export const sentence = (code, params = {}) => fill(SENTENCES[code], params);
export const limitText = (code, params = {}) => fill(LIMITS[code], params);

// What a sentence about something that cannot be known names: its fact, as it is called in the trade.
export function named(params) {
  const found = { ...params };
  const nameOf = (fact) => (Object.hasOwn(FACT_NAMES, fact) ? FACT_NAMES[fact] : fact);
  if ("fact" in params) found.name = nameOf(params.fact);
  if ("other" in params) found.other_name = nameOf(params.other).replace(/^./u, (first) => first.toLowerCase());
  return found;
}
