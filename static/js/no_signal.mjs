// The page for no signal: leads to what is kept on this phone.

import { listed, person } from "./keeping.mjs";

// The page is kept without anybody's cookies; the ground that was chosen is in one.
const theme = document.cookie.match(/(?:^|; )theme=(light|dark)/)?.[1];
if (theme) document.documentElement.dataset.theme = theme;

const place = document.querySelector("[data-kept-pages]");

// What an address is a page of, in the order in which one looks for it.
const KINDS = [
  ["phone", /^\/course\/[^/]+\/phone\/$/],
  ["walk", /^\/course\/[^/]+\/walk\/$/],
  ["board", /^\/course\/[^/]+\/$/],
  ["hold", /^\/course\/[^/]+\/hold\/$/],
  ["withdraw", /^\/course\/[^/]+\/out-of-service\/$/],
  ["findings", /^\/course\/[^/]+\/findings\/$/],
];

const found = await listed(await person());
for (const [kind, address] of KINDS)
  for (const path of found.keys()) {
    if (!address.test(path)) continue;
    const link = Object.assign(document.createElement("a"), { className: "rows__link", href: path });
    link.append(Object.assign(document.createElement("span"), { className: "rows__title", textContent: place.dataset[kind] }));
    const row = document.createElement("li");
    row.append(link);
    place.append(row);
  }
document.querySelector(place.children.length ? "[data-some]" : "[data-none]").hidden = false;
document.querySelector("[data-again]").href = location.href;
