"""What a page says or asks over itself (static/js/say.mjs), kept and answered while a test goes on with something else.

That its keys can be found and pressed is held in tests/browser/test_said_over.py.
"""

from __future__ import annotations

from typing import Any

from playwright.sync_api import BrowserContext, Page

ANSWER = """() => {
  const answered = new WeakSet();
  const look = async () => {
    for (const box of document.querySelectorAll("dialog.say[open]")) {
      if (answered.has(box)) continue;
      answered.add(box);
      const part = (name) => box.querySelector(`[data-say-${name}]`);
      const [text, typed, yes, back] = ["text", "typed", "yes", "back"].map(part);
      const answer = await window.saidOver({ text: text.innerText, types: !typed.hidden });
      if (!typed.hidden) typed.value = answer.typed;
      (answer.agree && !yes.hidden ? yes : back).click();
    }
  };
  new MutationObserver(look).observe(document, { subtree: true, childList: true, attributeFilter: ["open"] });
  look();
}"""


class Said(list[str]):
    """What was said, in order. ``agree``: what is answered where it is asked; ``typed``: the figure that is typed."""

    def __init__(self, where: Page | BrowserContext, *, agree: bool = True, typed: str = "") -> None:
        super().__init__()
        self.agree, self.typed = agree, typed
        where.expose_binding("saidOver", self._hear)
        where.add_init_script(f"({ANSWER})()")
        for page in where.pages if isinstance(where, BrowserContext) else [where]:
            page.evaluate(ANSWER)

    def _hear(self, _source: Any, said: dict[str, Any]) -> dict[str, Any]:
        self.append(said["text"])
        return {"agree": self.agree, "typed": self.typed}
