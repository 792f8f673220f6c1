// Makes elements: make("p", { class: "hint" }, "text", otherElement). Text never becomes markup.

export function make(name, has = {}, ...inside) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(has)) {
    if (value === null || value === undefined || value === false) continue;
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else if (value === true) element.setAttribute(key, "");
    else element.setAttribute(key, value);
  }
  element.append(...inside.flat(Infinity).filter((part) => part !== null && part !== undefined && part !== false));
  return element;
}

export const find = (query, from = document) => from.querySelector(query);
export const findAll = (query, from = document) => [...from.querySelectorAll(query)];

let last = 0;
/** An id that no other element of the page has. */
export const freshId = (of) => `${of}-${(last += 1)}`;
