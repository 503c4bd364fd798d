// The page that checks a bundle where it lies. After it is loaded it asks for nothing and sends nothing.

import { askedOf, verify } from "./check.mjs";
import { Bad } from "./bytes.mjs";
import { able } from "./notes.mjs";
import { about, outcomes, report, verdict } from "./verdict.mjs";

const STATES = { 1: "FAULT", 2: "--", 3: "limit", 4: "ok" }; // which mark a level of the verdict bears
const MARKS = { Fault: "FAULT", Limit: "limit" }; // the same by the words of the verdict

// Keys stand one behind the other, each of them perhaps broken over lines: its bytes have 44 signs.
export function keysIn(text) {
  const whole = text.replace(/\s/g, "");
  const found = whole.match(/[^+]+\+[0-9a-f]{8}\+[A-Za-z0-9+/]{44}/g) ?? [];
  return found.join("") === whole ? found : [text];
}

function made(kind, text = "", name = "") {
  const found = document.createElement(kind);
  if (text) found.textContent = text;
  if (name) found.className = name;
  return found;
}

const sentence = (words) => `${words[0].toUpperCase()}${words.slice(1)}.`;

class Page {
  constructor(root) {
    this.root = root;
    this.form = root.querySelector("form");
    this.result = root.querySelector("[data-result]");
    this.words = root.dataset;
    this.file = null;
    this.stopping = null;
    const { form } = this;
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      if (!this.stopping) this.run();
    });
    this.part("stop").addEventListener("click", () => this.stopping?.abort());
    form.elements.file.addEventListener("change", ({ target }) => this.take(target.files[0]));
    const drop = this.part("drop");
    for (const kind of ["dragenter", "dragover"]) {
      document.addEventListener(kind, (event) => {
        event.preventDefault();
        drop.classList.add("is-over");
      });
    }
    document.addEventListener("dragleave", (event) => event.relatedTarget ?? drop.classList.remove("is-over"));
    document.addEventListener("drop", (event) => {
      event.preventDefault();
      drop.classList.remove("is-over");
      if (event.dataTransfer.files.length) this.take(event.dataTransfer.files[0]);
    });
  }

  part(name) {
    return this.root.querySelector(`[data-${name}]`);
  }

  take(file) {
    if (!file || this.stopping) return;
    this.file = file;
    this.part("file").textContent = file.name;
    this.wrong("file", "");
    this.result.hidden = true;
  }

  // Say beside a field what is wrong with it; nothing takes it away again.
  wrong(name, why) {
    const field = this.root.querySelector(`[data-field="${name}"]`);
    const error = field.querySelector(".field__error");
    error.hidden = !why;
    error.querySelector("[data-why]").textContent = why;
    field.classList.toggle("field--wrong", Boolean(why));
    const control = this.form.elements[name];
    control.setAttribute("aria-invalid", String(Boolean(why)));
    if (why) control.focus();
  }

  // What is held against the file, or null where a field cannot be read.
  asked() {
    const { key, saved, witness, days } = this.form.elements;
    for (const name of ["file", "key", "saved", "witness", "days"]) this.wrong(name, "");
    if (!this.file) {
      this.wrong("file", this.words.wordsNoFile);
      return null;
    }
    if (!days.validity.valid) {
      this.wrong("days", this.words.wordsDays);
      return null;
    }
    try {
      return askedOf({
        keys: keysIn(key.value), witnesses: keysIn(witness.value), saved: saved.value.trim() ? [saved.value] : [],
        days: days.value === "" ? null : Number(days.value), program: this.words.program,
      });
    } catch (error) {
      if (!(error instanceof Bad)) throw error;
      this.wrong(error.field, this.words.wordsWrong.replace("%(why)s", error.message));
      return null;
    }
  }

  async run() {
    const asked = this.asked();
    if (!asked) return;
    this.stopping = new AbortController();
    this.result.hidden = true;
    this.busy(true);
    this.say(this.words.wordsRunning);
    const tell = (part, done, of) => this.progress(part, done, of);
    try {
      const found = await verify(this.file, asked, { now: Date.now(), signal: this.stopping.signal, tell });
      this.say("");
      this.show(found);
    } catch (error) {
      const stopped = this.stopping.signal.aborted;
      this.say(stopped ? this.words.wordsStopped : this.words.wordsBroken);
      if (!stopped) console.error(error);
    } finally {
      this.stopping = null;
      this.busy(false);
    }
  }

  busy(is) {
    this.part("check").hidden = is;
    this.part("stop").hidden = !is;
    this.part("progress").hidden = !is;
    this.form.elements.file.disabled = is;
    this.progress("begin", 0, 0);
  }

  progress(part, done, of) {
    const [word, bar] = [this.part("progress-word"), this.root.querySelector("progress")];
    const share = of ? Math.min(Math.floor((100 * done) / of), 100) : 0;
    word.textContent = of ? `${this.words[`part${part}`]}: ${share} %` : "";
    bar.value = share;
  }

  say(words) {
    this.part("status").textContent = words;
  }

  mark(state, word = "") {
    const found = this.root.querySelector(`template[data-mark="${state}"]`).content.cloneNode(true);
    if (word) found.querySelector("span > span").textContent = word;
    return found;
  }

  show(found) {
    const { level, title, sentences, never } = verdict(found);
    const fill = (name, ...parts) => this.part(name).replaceChildren(...parts);
    const shown = title[0] + title.slice(1, -1).toLowerCase();
    fill("verdict", this.mark(STATES[level], shown));
    this.part("verdict").firstElementChild.classList.add("mark--large");
    // Here the verdict comes first, what it rests on after it, under the words of the marks.
    const here = (one) => one.replace(/stands above under (Fault|Limit)\.$/, (_, word) =>
      `stands below under ${this.mark(MARKS[word]).textContent.trim()}.`);
    fill("sentences", ...sentences.map((one) => made("p", here(one))));

    // What was not checked and limits the verdict stands among the limits.
    const all = outcomes(found).map((one) =>
      one.word === "--" && one.said.some(({ level }) => level === "limit") ? { ...one, word: "limit", remark: "" } : one);
    const open = ["FAULT", "limit", "--", "ok"].flatMap((word) =>
      all.filter((one) => one.word === word && (word !== "ok" || one.said.length)));
    fill("outcomes", ...open.map((one) => this.outcome(one)));
    this.part("outcomes").hidden = !open.length;
    const agree = all.filter((one) => one.word === "ok");
    fill("agree", ...agree.map(({ check, remark }) => {
      const item = made("li");
      item.append(made("b", check), `: ${remark}.`);
      return item;
    }));
    this.part("agree-box").hidden = !agree.length;
    this.part("agree-count").textContent = agree.length;

    fill("about", ...[[this.words.wordsFile, this.file.name], ...about(found)].map(([word, text]) => {
      const row = made("div");
      const value = made("dd");
      value.append(made("span", text, "clause wrap"));
      row.append(made("dt", word), value);
      return row;
    }));
    fill("never", ...never.map((one) => made("li", one, "row")));
    const head = level > 1 ? found.info.head : null;
    this.part("keep").hidden = !head;
    if (head) this.part("keep-text").value = head.note;
    this.part("text").value = report(found, this.file.name);
    this.result.hidden = false;
    this.part("verdict").focus();
  }

  outcome({ check, word, remark, said, more }) {
    const item = made("li", "", "outcome");
    const head = made("p", "", "outcome__head");
    head.append(this.mark(word), made("b", check, "outcome__check"));
    item.append(head);
    const lines = said.map(({ level, sentence: one }) =>
      made("p", level === "note" ? `${this.words.wordsNote}: ${one}` : one));
    if (remark) lines.unshift(made("p", sentence(remark)));
    if (more) lines.push(made("p", this.words.wordsMore.replace("%(count)s", more)));
    item.append(...lines);
    return item;
  }
}

async function start(root) {
  if (!(await able())) return;
  root.querySelector("[data-not-ready]").hidden = true;
  root.querySelector("[data-ready]").hidden = false;
  new Page(root);
}

const root = globalThis.document?.querySelector("[data-verify]");
if (root) start(root);
