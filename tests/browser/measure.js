// What a page is measured by: every piece of text that shows, where it is, and what is behind it.
(() => {
  const shown = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const parent = node.parentElement;
    if (!node.data.trim() || ["TITLE", "DESC", "STYLE"].includes(parent.tagName.toUpperCase())) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    for (const box of range.getClientRects())
      if (box.width > 0.5 && box.height > 0.5) shown.push({ node, parent, box, text: node.data.trim() });
  }
  const said = (one) => one.text.slice(0, 40);
  const wide = document.documentElement.clientWidth;

  const block = (element) => {
    let at = element;
    while (getComputedStyle(at).display.startsWith("inline")) at = at.parentElement;
    return at;
  };
  const clipped = () => {
    const found = [];
    for (const one of document.querySelectorAll("body, body *")) {
      if (one.closest("svg") || !one.clientWidth) continue;
      const hides = getComputedStyle(one).overflow !== "visible";
      if (one.scrollWidth > one.clientWidth + 1 || (hides && one.scrollHeight > one.clientHeight + 1))
        found.push(`${one.tagName}.${one.className}: ${one.textContent.trim().slice(0, 40)}`);
    }
    for (const one of shown) {
      const svg = one.parent.closest("svg");
      const room = (svg || block(one.parent)).getBoundingClientRect();
      const { left, right, top, bottom } = one.box;
      // A big number on a line of its own height has a font box that is higher than the line.
      const slack = svg ? 0.5 : 1 + 0.12 * one.box.height;
      if (left < room.left - 1 || right > room.right + 1 || top < room.top - slack
        || bottom > room.bottom + slack || left < 0 || right > wide + 0.5)
        found.push(`outside: ${said(one)}`);
    }
    return found;
  };
  const overlapping = () => {
    // Font boxes are higher than what is drawn: lines set close are not one over the other.
    const inner = shown.map((one) => ({
      one, left: one.box.left + 0.5, right: one.box.right - 0.5,
      top: one.box.top + 0.13 * one.box.height, bottom: one.box.bottom - 0.13 * one.box.height,
    })).sort((a, b) => a.top - b.top);
    const found = [];
    inner.forEach((a, index) => {
      for (let next = index + 1; next < inner.length && inner[next].top < a.bottom; next++) {
        const b = inner[next];
        // The head of a table that goes on in the next column is told once for each, in one place.
        const again = a.one.node === b.one.node && a.top === b.top && a.left === b.left;
        if (!again && a.left < b.right && b.left < a.right) found.push(`${said(a.one)} / ${said(b.one)}`);
      }
    });
    return found;
  };

  const channels = (color) => color.match(/[\d.]+/g).map(Number);
  const luminance = (color) => {
    const [r, g, b] = channels(color).slice(0, 3).map((value) => {
      const part = value / 255;
      return part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const seen = (color) => color.startsWith("rgb") && (channels(color)[3] ?? 1) > 0;
  const behind = (one) => {
    const { left, top, width, height } = one.box;
    const stack = document.elementsFromPoint(left + width / 2, top + height / 2);
    const start = stack.findIndex((at) => at === one.parent || at.contains(one.parent));
    for (const at of stack.slice(Math.max(start, 0))) {
      const style = getComputedStyle(at);
      const drawn = at.ownerSVGElement && at.tagName !== "text" ? style.fill : style.backgroundColor;
      if (seen(drawn)) return drawn;
    }
    return getComputedStyle(document.documentElement).backgroundColor;
  };
  const faint = () => {
    const found = [];
    for (const one of shown) {
      const style = getComputedStyle(one.parent);
      const color = one.parent.ownerSVGElement ? style.fill : style.color;
      const [high, low] = [luminance(color), luminance(behind(one))].sort((a, b) => b - a);
      const ratio = (high + 0.05) / (low + 0.05);
      let clear = 1;
      for (let at = one.parent; at; at = at.parentElement) clear *= getComputedStyle(at).opacity;
      if (ratio < 4.5 || clear < 1) found.push(`${ratio.toFixed(2)}: ${said(one)}`);
    }
    return found;
  };

  const size = (element) => {
    const scale = element.ownerSVGElement ? element.getScreenCTM().a : 1;
    return scale * parseFloat(getComputedStyle(element).fontSize);
  };
  const sizes = () => {
    const turns = [], others = [];
    for (const one of shown) (one.parent.matches(".turn .much, .up .much, .down .much") ? turns : others).push(size(one.parent));
    return { turns, least: Math.min(...turns, ...others), most: Math.max(...others) };
  };

  window.measured = {
    count: shown.length,
    clipped, overlapping, faint, sizes,
    wide: document.documentElement.scrollWidth, room: window.innerWidth,
  };
})();
