// Making elements without markup in strings: names from the library are never parsed as HTML.

const SVG = "http://www.w3.org/2000/svg";

function fill(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes || {})) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) {
      element.setAttribute(name, String(value));
    }
  }
  for (const child of children) {
    if (child !== null && child !== undefined) element.append(child);
  }
  return element;
}

export function el(name, attributes, ...children) {
  return fill(document.createElement(name), attributes, children);
}

export function svg(name, attributes, ...children) {
  return fill(document.createElementNS(SVG, name), attributes, children);
}

let wordTimer = 0;

export function say(text, stay = 5000) {
  const word = document.getElementById("word");
  word.textContent = text;
  clearTimeout(wordTimer);
  if (stay) wordTimer = setTimeout(() => (word.textContent = ""), stay);
}
