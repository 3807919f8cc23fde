// Marking on a photo: pan and zoom with fingers or mouse, scale points under a magnifier, cracks and
// joints as lines of taps. The server holds the truth; what is not confirmed yet is kept in a queue.
const REACH = 24;        // how near a tap must be to a point or line, in screen pixels
const LENS = 62;         // radius of the magnifier, in screen pixels
const SMALL = 2048;      // long side of the light copy that is drawn while zoomed out
const STYLE = {
  crack: { ink: "#b3002d", dash: [] },
  joint: { ink: "#003f8a", dash: [12, 8] },
};

function start(host, component) {
  const canvas = host.querySelector("canvas"), pen = canvas.getContext("2d");
  const bar = host.querySelector(".tools"), say = host.querySelector(".say");
  const me = { component, mode: "move", marks: [], lines: [], draft: [], chosen: null, queue: [], undo: [], redo: [],
    scale: 1, left: 0, top: 0, url: "", whole: null, small: null, pointers: new Map(), lens: null, frame: 0 };
  const id = Math.random().toString(36).slice(2, 10);
  let count = 0;

  const toScreen = ([x, y]) => [(x - me.left) * me.scale, (y - me.top) * me.scale];
  const toPhoto = ([x, y]) => [x / me.scale + me.left, y / me.scale + me.top];
  const fit = () => {
    const { cols, rows } = me.data;
    me.scale = Math.min(canvas.clientWidth / cols, canvas.clientHeight / rows);
    me.left = -(canvas.clientWidth / me.scale - cols) / 2;
    me.top = -(canvas.clientHeight / me.scale - rows) / 2;
  };
  const again = () => { if (!me.frame) me.frame = requestAnimationFrame(draw); };

  function trace(points, style, width, halo) {
    if (points.length < 2) return;
    pen.beginPath();
    points.forEach((p, i) => pen[i ? "lineTo" : "moveTo"](...toScreen(p)));
    pen.setLineDash([]);
    pen.strokeStyle = halo ? "#ffd400" : "#fff"; pen.lineWidth = width + (halo ? 7 : 4); pen.stroke();
    pen.setLineDash(style.dash); pen.strokeStyle = style.ink; pen.lineWidth = width; pen.stroke();
    pen.setLineDash([]);
  }

  function word(text, [x, y]) {
    pen.font = "600 15px sans-serif"; pen.lineWidth = 4;
    pen.strokeStyle = "#fff"; pen.strokeText(text, x, y);
    pen.fillStyle = "#111"; pen.fillText(text, x, y);
  }

  function photo(ctx, scale, left, top, width, height) {
    const light = me.small && scale * (me.data.cols / me.small.width) <= 1.01;
    const source = light ? me.small : me.whole;
    if (!source) return;
    const k = source.width / me.data.cols;
    ctx.imageSmoothingEnabled = scale < 3;
    ctx.drawImage(source, left * k, top * k, (width / scale) * k, (height / scale) * k, 0, 0, width, height);
  }

  function draw() {
    me.frame = 0;
    const ratio = window.devicePixelRatio || 1, w = canvas.clientWidth, h = canvas.clientHeight;
    if (canvas.width !== Math.round(w * ratio) || canvas.height !== Math.round(h * ratio)) {
      canvas.width = Math.round(w * ratio); canvas.height = Math.round(h * ratio);
    }
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.fillStyle = "#ddd"; pen.fillRect(0, 0, w, h);
    photo(pen, me.scale, me.left, me.top, w, h);
    for (const line of me.lines) {
      trace(line.points, STYLE[line.kind], line.found ? 1.5 : 3, me.chosen === line.name);
      if (!line.found || me.chosen === line.name) {
        const [x, y] = toScreen(line.points[line.points.length >> 1]);
        word(line.name + (line.found ? " ?" : ""), [x + 8, y - 8]);
      }
    }
    trace(me.draft, STYLE[me.mode] || STYLE.crack, 3, false);
    for (const p of me.draft) { const [x, y] = toScreen(p); pen.fillStyle = "#111"; pen.fillRect(x - 4, y - 4, 8, 8); }
    for (const mark of me.marks) {
      const [x, y] = toScreen([mark.x, mark.y]), r = me.chosen === mark.name ? 16 : 11;
      for (const [ink, width] of [["#fff", 6], ["#111", 2.5]]) {
        pen.strokeStyle = ink; pen.lineWidth = width; pen.beginPath(); pen.arc(x, y, r, 0, 7);
        pen.moveTo(x - r - 6, y); pen.lineTo(x - 4, y); pen.moveTo(x + 4, y); pen.lineTo(x + r + 6, y);
        pen.moveTo(x, y - r - 6); pen.lineTo(x, y - 4); pen.moveTo(x, y + 4); pen.lineTo(x, y + r + 6);
        pen.stroke();
      }
      word(mark.name, [x + r + 8, y - 6]);
    }
    if (me.keyed && document.activeElement === canvas) lens([w / 2, h / 2], w);
    if (me.lens) lens(me.lens, w);
    canvas.dataset.frames = Number(canvas.dataset.frames || 0) + 1;
  }

  function lens([x, y], w) {
    const zoom = Math.max(me.scale * 3, 1.5), [px, py] = toPhoto([x, y]);
    const cx = Math.min(Math.max(x, LENS + 4), w - LENS - 4), cy = y > 2 * LENS + 40 ? y - LENS - 34 : y + LENS + 44;
    pen.save();
    pen.beginPath(); pen.arc(cx, cy, LENS, 0, 7); pen.clip();
    pen.fillStyle = "#ddd"; pen.fillRect(cx - LENS, cy - LENS, 2 * LENS, 2 * LENS);
    pen.translate(cx - LENS, cy - LENS);
    photo(pen, zoom, px - LENS / zoom, py - LENS / zoom, 2 * LENS, 2 * LENS);
    pen.restore();
    for (const [ink, width] of [["#fff", 5], ["#111", 1.5]]) {
      pen.strokeStyle = ink; pen.lineWidth = width; pen.beginPath();
      pen.moveTo(cx - LENS, cy); pen.lineTo(cx - 5, cy); pen.moveTo(cx + 5, cy); pen.lineTo(cx + LENS, cy);
      pen.moveTo(cx, cy - LENS); pen.lineTo(cx, cy - 5); pen.moveTo(cx, cy + 5); pen.lineTo(cx, cy + LENS);
      pen.stroke();
    }
    pen.strokeStyle = "#111"; pen.lineWidth = 3; pen.beginPath(); pen.arc(cx, cy, LENS, 0, 7); pen.stroke();
  }

  // ---- edits: each is sent, and each can be taken back by another edit ----
  function apply(edit) {
    const list = edit.kind === "mark" ? me.marks : me.lines;
    const at = list.findIndex((e) => e.name === edit.name && (e.kind || "mark") === edit.kind);
    if (at >= 0) list.splice(at, 1);
    if (edit.op === "put") list.push(edit.kind === "mark" ? { name: edit.name, x: edit.x, y: edit.y }
      : { kind: edit.kind, name: edit.name, points: edit.points, found: false });
  }
  function send(edit) {
    apply(edit);
    me.queue.push({ ...edit, id: `${id}-${(count += 1)}` });
    me.component.setStateValue("edits", me.queue.slice());
    again(); tools();
  }
  function make(edit, back) { me.undo.push([edit, back]); me.redo = []; send(edit); }
  function step(from, to, which) {
    const pair = from.pop();
    if (!pair) return;
    to.push(pair); me.chosen = null; send(pair[which]);
  }
  const free = (letter) => {
    const used = new Set([...me.data.taken, ...me.marks.map((m) => m.name), ...me.lines.map((l) => l.name)]);
    let n = 1;
    while (used.has(letter + n)) n += 1;
    return letter + n;
  };
  function finish() {
    if (me.draft.length >= 2) {
      const name = free(me.mode === "crack" ? "C" : "J");
      const edit = { op: "put", kind: me.mode, name, points: me.draft };
      make(edit, { op: "out", kind: me.mode, name });
    }
    me.draft = []; again(); tools();
  }
  function takeOut() {
    const mark = me.marks.find((m) => m.name === me.chosen), line = me.lines.find((l) => l.name === me.chosen);
    if (mark) make({ op: "out", kind: "mark", name: mark.name }, { op: "put", kind: "mark", ...mark });
    else if (line) make({ op: "out", kind: line.kind, name: line.name },
      { op: "put", kind: line.kind, name: line.name, points: line.points });
    me.chosen = null; tools();
  }
  function accept() {
    const line = me.lines.find((l) => l.name === me.chosen && l.found);
    if (line) make({ op: "put", kind: line.kind, name: line.name, points: line.points },
      { op: "out", kind: line.kind, name: line.name });
    me.chosen = null; tools();
  }

  function near(x, y) {
    let best = null, least = REACH;
    for (const m of me.marks) {
      const [mx, my] = toScreen([m.x, m.y]), d = Math.hypot(mx - x, my - y);
      if (d < least) { least = d; best = m.name; }
    }
    for (const line of me.lines) for (let i = 1; i < line.points.length; i += 1) {
      const [ax, ay] = toScreen(line.points[i - 1]), [bx, by] = toScreen(line.points[i]);
      const length = (bx - ax) ** 2 + (by - ay) ** 2 || 1;
      const t = Math.min(1, Math.max(0, ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / length));
      const d = Math.hypot(ax + t * (bx - ax) - x, ay + t * (by - ay) - y);
      if (d < least) { least = d; best = line.name; }
    }
    return best;
  }
  function tap(x, y) {
    const [px, py] = toPhoto([x, y]).map((v) => Math.round(v * 10) / 10);
    if (px < 0 || py < 0 || px > me.data.cols - 1 || py > me.data.rows - 1) return;
    if (me.mode === "mark") {
      const name = free("m");
      make({ op: "put", kind: "mark", name, x: px, y: py }, { op: "out", kind: "mark", name });
    } else if (me.mode === "crack" || me.mode === "joint") {
      me.draft.push([px, py]);
    } else me.chosen = near(x, y);
    again(); tools();
  }

  // ---- pointers ----
  const spot = (e) => { const b = canvas.getBoundingClientRect(); return [e.clientX - b.left, e.clientY - b.top]; };
  function zoomAt([x, y], factor) {
    const [px, py] = toPhoto([x, y]);
    const least = 0.5 * Math.min(canvas.clientWidth / me.data.cols, canvas.clientHeight / me.data.rows);
    me.scale = Math.min(8, Math.max(least, me.scale * factor));
    me.left = px - x / me.scale; me.top = py - y / me.scale; again();
  }
  let moved = false, many = false;
  canvas.onpointerdown = (e) => {
    canvas.setPointerCapture(e.pointerId);
    me.keyed = false;
    if (!me.pointers.size) { moved = false; many = false; }
    me.pointers.set(e.pointerId, spot(e));
    if (me.pointers.size > 1) { many = true; me.lens = null; }
    else if (me.mode !== "move") me.lens = spot(e);
    again();
  };
  canvas.onpointermove = (e) => {
    if (!me.pointers.has(e.pointerId)) return;
    const was = [...me.pointers.values()], before = me.pointers.get(e.pointerId), now = spot(e);
    if (Math.hypot(now[0] - before[0], now[1] - before[1]) < 3 && !moved) return;
    moved = true;
    me.pointers.set(e.pointerId, now);
    const is = [...me.pointers.values()];
    if (is.length === 2) {
      const middle = (p) => [(p[0][0] + p[1][0]) / 2, (p[0][1] + p[1][1]) / 2];
      const gap = (p) => Math.hypot(p[0][0] - p[1][0], p[0][1] - p[1][1]) || 1;
      const a = middle(was), b = middle(is);
      me.left -= (b[0] - a[0]) / me.scale; me.top -= (b[1] - a[1]) / me.scale;
      zoomAt(b, gap(is) / gap(was));
    } else if (me.mode === "move" && !many) {
      me.left -= (now[0] - before[0]) / me.scale; me.top -= (now[1] - before[1]) / me.scale;
    } else if (!many) me.lens = now;
    again();
  };
  canvas.onpointerup = canvas.onpointercancel = (e) => {
    const at = spot(e);
    me.pointers.delete(e.pointerId);
    me.lens = null;
    if (!me.pointers.size && !many && e.type === "pointerup" && (me.mode !== "move" || !moved)) tap(...at);
    again();
  };
  canvas.onwheel = (e) => { e.preventDefault(); zoomAt(spot(e), Math.exp(-e.deltaY / 400)); };
  canvas.onkeydown = (e) => {
    const pan = { ArrowLeft: [-40, 0], ArrowRight: [40, 0], ArrowUp: [0, -40], ArrowDown: [0, 40] }[e.key];
    const middle = [canvas.clientWidth / 2, canvas.clientHeight / 2];
    if (pan) { me.left += pan[0] / me.scale; me.top += pan[1] / me.scale; again(); }
    else if (e.key === "+") zoomAt(middle, 1.25);
    else if (e.key === "-") zoomAt(middle, 0.8);
    else if (e.key === " ") tap(...middle);
    else if (e.key === "Enter") finish();
    else return;
    me.keyed = true; again();
    e.preventDefault();
  };

  // ---- tools ----
  function tools() {
    const words = me.data.words, line = me.lines.find((l) => l.name === me.chosen);
    const middle = [canvas.clientWidth / 2, canvas.clientHeight / 2];
    const modes = ["move", "mark", ...(me.data.scaled ? ["crack", "joint"] : [])];
    const items = [
      ...modes.map((m) => [words[m], () => { finish(); me.mode = m; me.chosen = null; tools(); again(); }, true, me.mode === m]),
      ["−", () => zoomAt(middle, 0.67), true, null, words.smaller], ["+", () => zoomAt(middle, 1.5), true, null, words.larger],
      [words.undo, () => (me.draft.length ? (me.draft.pop(), again(), tools()) : step(me.undo, me.redo, 1)),
        me.undo.length + me.draft.length > 0],
      [words.redo, () => step(me.redo, me.undo, 0), me.redo.length > 0],
    ];
    if (me.draft.length) items.push([words.finish, finish, me.draft.length > 1]);
    if (line && line.found) items.push([words.accept, accept, true]);
    if (me.chosen && !(line && line.found)) items.push([words.out, takeOut, true]);
    bar.replaceChildren(...items.map(([text, call, on, pressed, title]) => {
      const button = document.createElement("button");
      button.type = "button"; button.textContent = text; button.disabled = !on; button.onclick = call;
      if (title) button.setAttribute("aria-label", title);
      if (typeof pressed === "boolean") button.setAttribute("aria-pressed", pressed);
      return button;
    }));
    say.textContent = me.chosen ? `${me.chosen}` : words[`say_${me.mode}`];
  }

  async function load(url) {
    me.url = url; me.whole = me.small = null;
    const blob = await (await fetch(url)).blob();
    const whole = await createImageBitmap(blob);
    const part = Math.min(1, SMALL / Math.max(whole.width, whole.height));
    const small = await createImageBitmap(whole, { resizeWidth: Math.round(whole.width * part),
      resizeHeight: Math.round(whole.height * part), resizeQuality: "medium" });
    if (me.url !== url) return;
    me.whole = whole; me.small = small; canvas.dataset.ready = "yes"; again();
  }

  me.update = (next) => {
    me.component = next;
    const data = next.data, first = !me.data || me.data.url !== data.url;
    me.data = data;
    const done = new Set(data.done);
    me.queue = me.queue.filter((edit) => !done.has(edit.id));
    me.marks = data.marks.map((m) => ({ ...m })); me.lines = data.lines.map((l) => ({ ...l }));
    me.queue.forEach(apply);
    if (first) { fit(); load(data.url); me.undo = []; me.redo = []; me.draft = []; me.chosen = null; }
    me.watch ||= new ResizeObserver(() => again());
    me.watch.observe(canvas);
    canvas.setAttribute("aria-label", data.label);
    tools(); again();
  };
  return me;
}

export default function (component) {
  const host = component.parentElement.querySelector(".marking");
  host.marking ||= start(host, component);
  host.marking.update(component);
}
