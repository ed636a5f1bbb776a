// SPDX-License-Identifier: GPL-3.0-or-later
// Reading the program's own drawings: only the elements and attributes that src/draw writes are taken in.

const space = "http://www.w3.org/2000/svg";
const elements = new Set(["svg", "g", "path", "circle", "rect", "text", "tspan", "line", "title", "desc"]);
const attributes = new Set([
  "viewBox", "x", "y", "width", "height", "cx", "cy", "r", "d", "class", "fill", "stroke", "stroke-width", "stroke-dasharray",
  "stroke-linejoin", "fill-rule", "fill-opacity", "font-size", "font-weight", "font-style", "font-family", "text-anchor",
  "transform", "paint-order", "overflow", "role", "aria-label", "x1", "x2", "y1", "y2",
]);

function taken(from: Element): Element | null {
  if (from.namespaceURI !== space || !elements.has(from.localName)) return null;
  const out = document.createElementNS(space, from.localName);
  for (const one of Array.from(from.attributes)) if (attributes.has(one.name)) out.setAttribute(one.name, one.value);
  for (const child of Array.from(from.childNodes)) {
    if (child.nodeType === Node.TEXT_NODE) out.append(child.textContent ?? "");
    else if (child.nodeType === Node.ELEMENT_NODE) {
      const inner = taken(child as Element);
      if (inner) out.append(inner);
    }
  }
  return out;
}

/** The drawing as an element of this document, or null where the text is none. */
export function drawingRead(text: string): SVGElement | null {
  const root = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  if (root.localName !== "svg") return null;
  const out = taken(root) as SVGElement | null;
  const width = Number(root.getAttribute("viewBox")?.split(" ")[2]);
  if (out && width > 0) out.style.setProperty("--drawn", `${Math.round((width * 4) / 3)}px`);
  return out;
}
