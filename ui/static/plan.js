// The slab seen from above: tap a station to choose it, tap the slab to set one.
// Plan is in millimetres, y up; SVG counts y down, so every y is turned over here.
const SVG = "http://www.w3.org/2000/svg";

function make(parent, name, attributes, text) {
  const node = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  if (text !== undefined) node.textContent = text;
  parent.append(node);
  return node;
}

export default function (component) {
  const { data, parentElement, setTriggerValue } = component;
  const host = parentElement.querySelector(".plan");
  host.replaceChildren();
  const xs = data.outline.map((c) => c.x), ys = data.outline.map((c) => c.y);
  if (xs.length < 3) {
    host.textContent = data.empty;
    return;
  }
  const left = Math.min(...xs), right = Math.max(...xs), low = Math.min(...ys), high = Math.max(...ys);
  const size = Math.max(right - left, high - low);
  const margin = 0.14 * size;
  const width = right - left + 2 * margin, height = high - low + 2 * margin;
  const px = Math.min(host.clientWidth || 340, 720);
  const unit = width / px;                       // plan millimetres in one pixel on the screen
  const X = (x) => x - left + margin, Y = (y) => high - y + margin;
  const svg = make(host, "svg", { viewBox: `0 0 ${width} ${height}`, role: "group", "aria-label": data.label });
  svg.style.maxHeight = "68vh";
  const shown = Math.max(unit, height / (0.68 * window.innerHeight));   // what a pixel is after fitting
  make(svg, "polygon", {
    points: data.outline.map((c) => `${X(c.x)},${Y(c.y)}`).join(" "),
    fill: "#e9e6df", stroke: "#111", "stroke-width": 2.5 * shown,
  });
  for (const pond of data.ponds) {
    make(svg, "polygon", {
      points: pond.map(([x, y]) => `${X(x)},${Y(y)}`).join(" "),
      fill: "#9cc3dd", stroke: "#0b3d5c", "stroke-width": 1.5 * shown, "stroke-dasharray": `${4 * shown} ${3 * shown}`,
    });
  }
  if (data.fall) {
    const reach = 42 * shown, cx = X((left + right) / 2), cy = Y((low + high) / 2);
    const dx = data.fall.x * reach, dy = -data.fall.y * reach, nx = -dy / reach, ny = dx / reach, head = 10 * shown;
    const tx = cx + dx, ty = cy + dy, bx = tx - (dx / reach) * 1.6 * head, by = ty - (dy / reach) * 1.6 * head;
    make(svg, "path", {
      d: `M ${cx - dx} ${cy - dy} L ${tx} ${ty} M ${bx + nx * head} ${by + ny * head} L ${tx} ${ty} `
        + `L ${bx - nx * head} ${by - ny * head}`,
      fill: "none", stroke: "#111", "stroke-width": 3 * shown,
    });
    make(svg, "text", {
      x: width / 2, y: height - 6 * shown, "font-size": 13 * shown, "text-anchor": "middle", fill: "#111",
    }, data.fall.text);
  }
  for (const c of data.outline) {
    const dx = c.x - (left + right) / 2, dy = c.y - (low + high) / 2, far = Math.hypot(dx, dy) || 1;
    make(svg, "text", {
      x: X(c.x + (dx / far) * 24 * shown), y: Y(c.y + (dy / far) * 24 * shown) + 6 * shown,
      "font-size": 17 * shown, "text-anchor": "middle", "font-weight": 700, fill: "#111",
    }, c.name);
  }
  for (const edge of data.edges) {
    make(svg, "line", {
      x1: X(edge.x1), y1: Y(edge.y1), x2: X(edge.x2), y2: Y(edge.y2),
      stroke: "#111", "stroke-width": 9 * shown,
    });
    make(svg, "text", {
      x: X(edge.x1 + 0.8 * (edge.x2 - edge.x1)),
      y: Y(edge.y1 + 0.8 * (edge.y2 - edge.y1)) + (edge.y1 + edge.y2 > low + high ? -12 : 22) * shown,
      "font-size": 13 * shown, "text-anchor": "middle", "font-style": "italic", fill: "#111",
    }, edge.text);
  }
  for (const h of data.heights) {
    make(svg, "path", {
      d: `M ${X(h.x) - 9 * shown} ${Y(h.y) + 7 * shown} h ${18 * shown} l ${-9 * shown} ${-16 * shown} z`,
      fill: "#fff", stroke: "#111", "stroke-width": 2 * shown,
    });
    make(svg, "text", {
      x: X(h.x), y: Y(h.y) - 14 * shown, "font-size": 13 * shown, "text-anchor": "middle", fill: "#111",
      stroke: "#fff", "stroke-width": 4 * shown, "paint-order": "stroke",
    }, h.text);
  }
  for (const s of data.stations) {
    const chosen = s.name === data.chosen;
    const group = make(svg, "g", {
      tabindex: 0, role: "button", "aria-pressed": chosen, "aria-label": `${s.name} ${s.text || data.unread}`,
    });
    make(group, "circle", { cx: X(s.x), cy: Y(s.y), r: 22 * shown, fill: "transparent" });
    make(group, "circle", {
      cx: X(s.x), cy: Y(s.y), r: (chosen ? 13 : 9) * shown, fill: s.text ? "#111" : "#fff",
      stroke: chosen ? "#7a2230" : "#111", "stroke-width": (chosen ? 5 : 2.5) * shown,
    });
    make(group, "text", {
      x: X(s.x), y: Y(s.y) + 24 * shown, "font-size": 13 * shown, "text-anchor": "middle",
      "font-weight": chosen ? 700 : 400, fill: "#111",
      stroke: "#fff", "stroke-width": 4 * shown, "paint-order": "stroke",
    }, s.text || s.name);
    const choose = (event) => {
      event.stopPropagation();
      setTriggerValue("picked", { name: s.name });
    };
    group.style.cursor = "pointer";
    group.onclick = choose;
    group.onkeydown = (event) => {
      if (event.key === "Enter" || event.key === " ") choose(event);
    };
  }
  if (data.tap) {
    svg.style.cursor = "crosshair";
    svg.onclick = (event) => {
      const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
      const x = at.x + left - margin, y = high + margin - at.y;
      setTriggerValue("placed", { x, y });
    };
  }
}
