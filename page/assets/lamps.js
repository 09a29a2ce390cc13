// The lamps of a recorded run, one half clock at a time. A half clock is known
// by its index from 0 on: even ones are the high half of clock index/2 + 1.
const $ = (id) => document.getElementById(id);
const run = JSON.parse($('run').textContent);

// The tables are 32-bit numbers, low byte first, as every machine with a
// browser has them.
function numbers(base64) {
  const raw = atob(base64);
  const bytes = new Uint8Array(raw.length);
  for (let i = 0; i < raw.length; i++) bytes[i] = raw.charCodeAt(i);
  return new Uint32Array(bytes.buffer);
}
const halves = numbers(run.halves); // 2 numbers each
const cycles = numbers(run.cycles); // 4 numbers each
const insts = numbers(run.insts); // 10 numbers each
const count = halves.length / 2;

const SIGNALS = ['M1', 'MREQ', 'IORQ', 'RD', 'WR', 'RFSH', 'HALT'];
const KINDS = ['internal operation', 'opcode fetch (M1)', 'memory read', 'memory write', 'I/O read', 'I/O write', 'interrupt acknowledge', 'reset'];
const [FETCH, IN, OUT, ACK] = [1, 4, 5, 6];
const TSTATES = ['', 'T1', 'T2', 'T3', 'T4', 'T5', 'T6', 'TW'];
const hex = (v, n) => v.toString(16).toUpperCase().padStart(n, '0');

// --- reading the tables

const address = (i) => halves[2 * i] & 0xFFFF;
const data = (i) => halves[2 * i] >>> 16 & 0xFF;
const lit = (i, signal) => halves[2 * i] >>> 24 + signal & 1;
const hasData = (i) => halves[2 * i] >>> 31 === 1;
const hasAddress = (i) => (halves[2 * i + 1] >>> 28 & 1) === 1;
const text = (i) => run.texts[halves[2 * i + 1] & 0xFFFFFF];
const tstate = (i) => TSTATES[halves[2 * i + 1] >>> 24 & 7];
const clockOf = (i) => (i >> 1) + 1;
const label = (i) => clockOf(i) + 'HL'[i % 2];

const cycleFirst = (c) => cycles[4 * c];
const cycleKind = (c) => cycles[4 * c + 1] & 0xFF;
const cycleT = (c) => cycles[4 * c + 1] >>> 8 & 0xFFFF;
const cycleInst = (c) => cycles[4 * c + 2];
const cycleEnd = (c) => c + 1 < cycles.length / 4 ? cycleFirst(c + 1) : count;
const place = (n) => run.places[insts[10 * n + 1] >>> 16];

// after gives the index of the first entry of a rising list that is above v.
function after(list, v) {
  let [a, b] = [0, list.length];
  while (a < b) {
    const m = a + b >> 1;
    if (list[m] > v) b = m;
    else a = m + 1;
  }
  return a;
}
const column = (table, width) => Uint32Array.from({length: table.length / width}, (_, k) => table[width * k]);
const starts = {cycle: column(cycles, 4), instruction: column(insts, 10)};
starts.M1 = starts.cycle.filter((_, c) => cycleKind(c) === FETCH || cycleKind(c) === ACK);
const cycleAt = (i) => after(starts.cycle, i) - 1;

// --- small helpers for the page

function element(tag, attributes, ...children) {
  const e = document.createElement(tag);
  for (const [k, v] of Object.entries(attributes || {})) e.setAttribute(k, v);
  e.append(...children);
  return e;
}

function draw(tag, attributes, content) {
  const e = document.createElementNS($('wave').namespaceURI, tag);
  for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v);
  if (content !== undefined) e.textContent = content;
  return e;
}

function row(cell, ...texts) {
  return element('tr', null, ...texts.map((t) => element(cell, null, t)));
}

function seconds(s) {
  for (const [name, size] of [['s', 1], ['ms', 1e-3], ['µs', 1e-6], ['ns', 1e-9]]) {
    if (s >= size * 0.9995 || name === 'ns') return Number((s / size).toPrecision(6)) + ' ' + name;
  }
}

// --- where we are, and stepping

let at = 0;

// The half of a clock in which the user's clock rests: 0 high, 1 low, -1 any.
const parity = () => ({high: 0, low: 1, either: -1})[$('rest').value];
// landing is the half clock at which a board stands that has just begun what
// begins at half clock i.
const landing = (i) => Math.min(parity() === 1 ? i + 1 : i, count - 1);

function go(i, quiet) {
  at = Math.max(0, Math.min(count - 1, i));
  render();
  if (!quiet) shell.say('');
}

const edge = (by) => shell.say(by > 0 ? 'the recording ends here' : 'the run begins here');

function stepBy(by) {
  const to = at + by;
  if (to < 0 || to >= count) edge(by);
  else go(to);
}

function stepClock(by) {
  const p = parity();
  stepBy(p < 0 || at % 2 === p ? 2 * by : by);
}

// stepTo goes to the next or previous entry of a list of beginnings.
function stepTo(list, by) {
  const here = at - landing(0);
  const k = by > 0 ? after(list, here) : after(list, here - 1) - 1;
  if (k < 0 || k === list.length) edge(by);
  else go(landing(list[k]));
}

const steps = {
  h: stepBy, t: stepClock,
  c: (by) => stepTo(starts.cycle, by),
  m: (by) => stepTo(starts.M1, by),
  i: (by) => stepTo(starts.instruction, by),
};
for (const [key, f] of Object.entries(steps)) {
  shell.keys[key] = () => { stop(); f(1); };
  shell.keys[key.toUpperCase()] = () => { stop(); f(-1); };
}
Object.assign(shell.keys, {
  ArrowRight: shell.keys.h, ArrowLeft: shell.keys.H,
  Home: () => { stop(); go(landing(0)); },
  End: () => { stop(); go(count - 1); },
  p: () => timer ? stop() : play(),
  g: () => { $('target').focus(); $('target').select(); },
  f: () => { $('ask-address').focus(); $('ask-address').select(); },
});
delete shell.keys.o; // there are no folds

// --- going somewhere

const labels = new Map(run.labels.map((l) => [l.name, l.at]));

function findLabel(word) {
  if (labels.has(word)) return labels.get(word);
  const same = run.labels.filter((l) => l.name.toLowerCase() === word.toLowerCase());
  return same.length === 1 ? same[0].at : undefined;
}

// jump goes to a clock (57, its low half 57L; 57H is an address), an address or
// a label.
function jump(word) {
  word = word.trim();
  const clock = /^(\d+)\s*([lL]?)$/.exec(word);
  if (clock) {
    const n = Number(clock[1]);
    if (n < 1 || n > clockOf(count - 1)) {
      shell.say('the run has clocks 1 to ' + clockOf(count - 1));
      return;
    }
    go(2 * (n - 1) + (clock[2] || parity() === 1 ? 1 : 0));
    return;
  }
  const found = findLabel(word);
  const digits = /^(?:0x|\$)([0-9a-f]{1,4})$|^0?([0-9a-f]{1,4})h$/i.exec(word);
  if (found === undefined && !digits) {
    shell.say(word === '' ? 'a clock, an address or a label is wanted' : 'no label ' + word + '; a clock is 57, an address 0012H');
    return;
  }
  jumpTo(found !== undefined ? found : parseInt(digits[1] || digits[2], 16));
}

// jumpTo goes to the next instruction that begins at an address, or failing
// that to the next time the address is on the bus; from the end on it goes on
// at the beginning.
function jumpTo(a) {
  const name = hex(a, 4) + 'H';
  const n = starts.instruction.length;
  const from = after(starts.instruction, at);
  for (let k = 0; k < n; k++) {
    const j = (from + k) % n;
    if ((insts[10 * j + 1] & 0xFFFF) === a && cycleKind(cycleAt(insts[10 * j])) !== KINDS.length - 1) {
      go(landing(insts[10 * j]));
      if (from + k >= n) shell.say(name + ' is not run again; this is the first time');
      return;
    }
  }
  for (let k = 1; k <= count; k++) {
    const i = (at + k) % count;
    if (hasAddress(i) && address(i) === a) {
      go(i);
      shell.say('no instruction at ' + name + ' is run; here it is on the address bus');
      return;
    }
  }
  shell.say(name + ' is never on the address bus in this run');
}
$('go').addEventListener('click', () => { stop(); jump($('target').value); });
$('target').addEventListener('keydown', (e) => { if (e.key === 'Enter') { stop(); jump($('target').value); } });
$('labels').append(...run.labels.slice(0, 2000).map((l) => element('option', {value: l.name})));

// --- playing

let timer = 0;
let begun = 0; // when, ms
let from = 0;

function play() {
  const rate = Number($('rate').value.replace(',', '.'));
  const ok = rate >= 0.01 && rate <= 100000;
  $('rate').setAttribute('aria-invalid', !ok);
  if (!ok) {
    shell.say('a rate is 0.01 to 100000 Hz');
    return;
  }
  if (at === count - 1) go(0);
  begun = performance.now();
  from = at;
  timer = setInterval(() => {
    // as many half clocks as the time that has passed asks for
    const to = from + Math.floor((performance.now() - begun) / 1000 * rate * 2);
    if (to > at) go(to, true);
    if (at === count - 1) {
      stop();
      edge(1);
    }
  }, Math.max(16, Math.min(250, 500 / rate)));
  $('play').firstChild.data = 'pause';
  $('play').setAttribute('aria-pressed', 'true');
  // nobody can listen to more than one sentence a second
  $('now').setAttribute('aria-live', rate > 0.5 ? 'off' : 'polite');
}

function stop() {
  if (!timer) return;
  clearInterval(timer);
  timer = 0;
  $('play').firstChild.data = 'play';
  $('play').setAttribute('aria-pressed', 'false');
  $('now').setAttribute('aria-live', 'polite');
  render();
}

// --- banks of lamps: what the run shows, and what the user asks for

// bank makes a group of lamps. Each is known by its bit in the first number of
// a half clock; 32 is the clock.
function bank(name, className, nibbles, signal, lamp) {
  const groups = nibbles.map((bits) => {
    const digit = className === 'control' ? '' : element('span', {class: 'digit'});
    return element('span', {class: 'nibble'}, ...bits.map((bit) =>
      element('span', {class: 'place'}, lamp(bit), element('span', {class: 'signal', 'aria-hidden': 'true'}, signal(bit)))), digit);
  });
  return element('div', {class: 'bank ' + className, role: 'group', 'aria-label': name}, element('span', {class: 'name', 'aria-hidden': 'true'}, name), element('span', {class: 'nibbles'}, ...groups));
}
const fours = (high, low) => Array.from({length: (high - low + 1) / 4}, (_, k) => [0, 1, 2, 3].map((b) => high - 4 * k - b));
const signalName = (bit) => bit < 16 ? 'A' + bit : bit < 24 ? 'D' + (bit - 16) : bit < 31 ? SIGNALS[bit - 24] : 'CLK';
const controls = [24, 25, 26, 27, 28, 29, 30];

const shown = new Map();
function shownLamp(bit) {
  const e = element('span', {class: 'lamp', 'aria-hidden': 'true', 'data-signal': signalName(bit)});
  shown.set(bit, e);
  return e;
}
const banks = {
  address: bank('address', 'bits', fours(15, 0), signalName, shownLamp),
  data: bank('data', 'bits', fours(23, 16), signalName, shownLamp),
  control: bank('control', 'control', [controls], signalName, shownLamp),
  clock: bank('clock', 'control', [[32]], () => 'CLK', shownLamp),
};
for (const b of Object.values(banks)) b.setAttribute('role', 'img');
$('lamps').append(...Object.values(banks));
const digits = (e) => Array.from(e.querySelectorAll('.digit'));
const shownDigits = {address: digits(banks.address), data: digits(banks.data)};

function showLamp(bit, state, word) {
  const e = shown.get(bit);
  e.className = 'lamp' + state;
  e.textContent = word;
}

function renderLamps() {
  const w = halves[2 * at];
  const loose = [!hasAddress(at), !hasData(at)];
  for (let bit = 0; bit < 24; bit++) {
    if (loose[bit >> 4]) showLamp(bit, ' loose', '–');
    else showLamp(bit, w >>> bit & 1 ? ' on' : '', w >>> bit & 1);
  }
  for (const bit of controls) showLamp(bit, w >>> bit & 1 ? ' on' : '', w >>> bit & 1 ? 'on' : 'off');
  showLamp(32, at % 2 ? '' : ' on', at % 2 ? 'L' : 'H');
  const said = busWords(at);
  for (const [k, name] of ['address', 'data'].entries()) {
    const value = name === 'address' ? hex(address(at), 4) : hex(data(at), 2);
    shownDigits[name].forEach((d, n) => { d.textContent = loose[k] ? '' : value[n]; });
    banks[name].setAttribute('aria-label', said[k]);
  }
  banks.control.setAttribute('aria-label', said[2]);
  banks.clock.setAttribute('aria-label', 'clock ' + (at % 2 ? 'low' : 'high'));
}

// busWords says what address, data and control lamps show.
function busWords(i) {
  const on = SIGNALS.filter((_, s) => lit(i, s));
  return [
    hasAddress(i) ? 'address ' + hex(address(i), 4) + 'H' : 'address not driven',
    hasData(i) ? 'data ' + hex(data(i), 2) + 'H' : 'data not driven',
    on.length ? 'lit: ' + on.join(', ') : 'no control lamp lit',
  ];
}

// --- words, source, registers

function renderNow() {
  const c = cycleAt(at);
  const p = place(cycleInst(c));
  const rest = [(at % 2 ? 'low' : 'high') + ' half', tstate(at) + ' of ' + KINDS[cycleKind(c)], 'machine cycle ' + (c + 1)];
  if (run.rate) rest.push('at ' + seconds(at * 500000 / run.rate));
  $('where').replaceChildren(element('b', null, 'Clock ' + clockOf(at)), ', ' + rest.join(' · '));
  $('words').textContent = text(at);
  const source = p.line < 0 ? '' : run.lines[p.line].t.trim().replace(/\s+/g, ' ');
  $('inst').textContent = [p.label, p.at, source].filter((s, k, all) => s && all.indexOf(s) === k).join(' · ');
  $('spoken').textContent = busWords(at).join('; ');
}

const AROUND = 60; // lines before and after the current one
let shownLines = [0, 0];
let markedLine;
let lineNumber;

function renderSource() {
  const line = place(cycleInst(cycleAt(at))).line;
  if (line === lineNumber) return; // saves working out where the line lies
  lineNumber = line;
  const box = $('source');
  if (!run.lines.length) {
    if (!box.firstChild) box.append(element('div', null, 'there is no source'));
    return;
  }
  if (line < shownLines[0] || line >= shownLines[1]) {
    const middle = Math.max(line, 0);
    shownLines = [Math.max(0, middle - AROUND), Math.min(run.lines.length, middle + AROUND)];
    box.replaceChildren(...run.lines.slice(...shownLines).map((l) => element('div', null,
      element('span', {class: 'sign'}), element('span', {class: 'addr'}, l.a), element('span', {class: 'bytes'}, l.b),
      element('span', {class: 'no'}, l.n), element('span', {class: 'text'}, l.n || l.a ? l.t : l.t || '…'))));
  }
  if (markedLine) {
    markedLine.classList.remove('here');
    markedLine.removeAttribute('aria-current');
    markedLine.firstChild.textContent = '';
  }
  markedLine = line < 0 ? undefined : box.children[line - shownLines[0]];
  if (!markedLine) return;
  markedLine.classList.add('here');
  markedLine.setAttribute('aria-current', 'true');
  markedLine.firstChild.textContent = '▶';
  const top = markedLine.offsetTop - box.offsetTop;
  if (top < box.scrollTop + 20 || top > box.scrollTop + box.clientHeight - 40) box.scrollTop = top - box.clientHeight / 2;
}

// Registers in the table of instructions: name, number, shift, bits, bit of
// the first known-flag; that of a pair's low half is the next one.
const REGISTERS = [
  ['BC', 2, 0, 0], ['DE', 2, 16, 2], ['HL', 3, 0, 4], ['A', 3, 24, 6], ['flags', 3, 16, 7], ['IX', 4, 0, 8], ['IY', 4, 16, 10], ['SP', 5, 0, 12],
  ['PC', 5, 16, -1], ['I', 8, 0, -1], ['R', 8, 8, -1], ['interrupts', 8, 16, -1],
  ["BC'", 6, 0, 16], ["DE'", 6, 16, 18], ["HL'", 7, 0, 20], ["A'", 7, 24, 22], ["flags'", 7, 16, 23],
];
const FLAGS = [['S', 7], ['Z', 6], ['H', 4], ['P/V', 2], ['N', 1], ['C', 0]];

// register gives what a register holds in instruction n, and a note where the
// program has set only a part of it or there is more to say.
function register([name, word, shift, known], n) {
  const v = insts[10 * n + word] >>> shift;
  const k = known < 0 ? 3 : insts[10 * n + 9] >>> known & 3;
  if (name === 'interrupts') return [(v & 1 ? 'on' : 'off') + ', IM ' + (v >>> 2 & 3) + (v >>> 4 & 1 ? ', halted' : ''), ''];
  if (name.startsWith('flags')) {
    const carry = insts[10 * n + 9] >>> (known < 16 ? 14 : 30) & 1;
    const isSet = (b) => b === 0 ? carry : k & 1;
    const some = FLAGS.filter(([, b]) => isSet(b));
    if (!some.length) return ['unknown', ''];
    return [some.map(([f, b]) => f + (v >>> b & 1)).join(' '), some.length < FLAGS.length ? 'the others unknown' : ''];
  }
  if (name.length === 1 || name === "A'") return [k & 1 ? hex(v & 0xFF, 2) + 'H' : 'unknown', ''];
  if (k === 0) return ['unknown', ''];
  const part = /^(IX|IY|SP|PC)$/.test(name) ? ['high byte', 'low byte'] : [name.replace(/^(.)./, '$1'), name.slice(1)];
  return [(k & 1 ? hex(v >>> 8 & 0xFF, 2) : '??') + (k & 2 ? hex(v & 0xFF, 2) : '??') + 'H', k === 3 ? '' : part[k & 1] + ' unknown'];
}

let shownInst = -1;
const registerCells = REGISTERS.map(([name]) => {
  const cells = [element('td'), element('td', {class: 'was'})];
  return {row: element('tr', null, element('th', {scope: 'row'}, name), ...cells), cells};
});
$('regs').append(...registerCells.map((r) => r.row));

function renderRegisters() {
  const n = cycleInst(cycleAt(at));
  if (n === shownInst) return;
  shownInst = n;
  REGISTERS.forEach((r, k) => {
    const [value, note] = register(r, n);
    const [old] = n > 0 ? register(r, n - 1) : [value];
    const [cell, was] = registerCells[k].cells;
    cell.textContent = value;
    cell.className = (value === 'unknown' ? 'unknown' : '') + (old !== value ? ' changed' : '');
    was.textContent = [note, old !== value && !['PC', 'R'].includes(r[0]) ? 'was ' + old : ''].filter(Boolean).join(', ');
  });
}

// --- ports and memory

// Accesses of each port (A7-A0) in the order of the run; one counts from its
// last T-state on, in which the byte changes hands.
const ports = new Map();
for (let c = 0; c < cycles.length / 4; c++) {
  const kind = cycleKind(c);
  if (kind !== IN && kind !== OUT) continue;
  const port = cycles[4 * c + 3] & 0xFF;
  if (!ports.has(port)) ports.set(port, {[IN]: [], [OUT]: [], [IN + 'v']: [], [OUT + 'v']: []});
  ports.get(port)[kind].push(cycleFirst(c) + 2 * (cycleT(c) - 1));
  ports.get(port)[kind + 'v'].push(cycles[4 * c + 3] >>> 16 & 0xFF);
}
const portNames = new Map(run.ports.map((p) => [p.port, p.name]));
const portCells = [...ports.keys()].sort((a, b) => a - b).map((port) => {
  const cells = [element('td', {class: 'mono'}), element('td', {class: 'mono'})];
  return {port, cells, row: element('tr', null, element('td', {class: 'mono'}, hex(port, 2) + 'H ' + (portNames.get(port) || '')), ...cells)};
});
if (portCells.length) $('ports').append(row('th', 'port', 'last read', 'last written'), ...portCells.map((p) => p.row));
else $('ports').append(row('td', 'none is read or written in this run'));

function renderPorts() {
  for (const {port, cells} of portCells) {
    [IN, OUT].forEach((kind, k) => {
      const list = ports.get(port)[kind];
      const n = after(list, at) - 1;
      cells[k].textContent = n >= 0 ? hex(ports.get(port)[kind + 'v'][n], 2) + 'H, clock ' + clockOf(list[n]) : list.length ? 'not yet' : '–';
    });
  }
}

const pointer = draw('path', {});
const areaRows = run.map.map((a) => {
  $('strip').append(draw('rect', {class: a.kind, x: a.first / 128 + 0.5, y: 2, width: Math.max(1.5, (a.last + 1 - a.first) / 128 - 1), height: 18}));
  const sign = element('td');
  const size = a.last + 1 - a.first;
  $('map').append(element('tr', null, element('td', {class: 'mono'}, hex(a.first, 4) + 'H–' + hex(a.last, 4) + 'H'), element('td', null, a.kind || 'nothing fitted'),
    element('td', null, size % 1024 ? size + ' bytes' : size / 1024 + 'K'), sign));
  return {area: a, sign};
});
$('strip').append(pointer);

function renderMap() {
  const there = hasAddress(at) && cycleKind(cycleAt(at)) !== IN && cycleKind(cycleAt(at)) !== OUT && !lit(at, 5);
  const x = Math.max(5, Math.min(507, address(at) / 128));
  pointer.setAttribute('d', there ? `M${x} 21l5 11h-10z` : '');
  for (const {area, sign} of areaRows) {
    const here = there && address(at) >= area.first && address(at) <= area.last;
    sign.textContent = here ? '◀ ' + hex(address(at), 4) + 'H' : '';
    sign.parentElement.className = here ? 'here' : '';
  }
}

// --- the waveform, drawn as the CPU manual draws its timing diagrams

const WINDOW = 32;
const [LEFT, UNIT, TOP, PITCH, HIGH] = [62, 20, 34, 25, 15];
const TRACES = ['CLK', 'A15–A0', 'M1', 'MREQ', 'RD', 'WR', 'IORQ', 'RFSH', 'HALT', 'D7–D0'];
const SHORT = ['internal', 'opcode fetch', 'memory read', 'memory write', 'I/O read', 'I/O write', 'acknowledge', 'reset'];

function levels(level, y, i0, i1, x) {
  let d = '';
  for (let i = i0; i <= i1; i++) {
    const v = level(i) ? y : y + HIGH;
    d += (i === i0 ? 'M' + x(i) : 'L' + (x(i) + 3)) + ' ' + v + 'L' + x(i + 1) + ' ' + v;
  }
  return d;
}

function renderWave() {
  const i1 = at;
  const i0 = Math.max(0, at - WINDOW + 1);
  const x = (i) => LEFT + (i - at + WINDOW - 1) * UNIT;
  const bottom = TOP + TRACES.length * PITCH;
  const out = [draw('rect', {x: x(at), y: 14, width: UNIT, height: bottom - 14})];
  // T-states and machine cycles above
  for (let i = i0 + i0 % 2; i <= i1; i += 2) out.push(draw('line', {x1: x(i), x2: x(i), y1: 18, y2: bottom}));
  for (let i = i0; i <= i1; i++) {
    if (i % 2 === 0) out.push(draw('text', {class: 'mid t', x: x(i) + UNIT, y: 28}, tstate(i)));
  }
  for (let c = cycleAt(i0); c <= cycleAt(i1); c++) {
    const a = Math.max(i0, cycleFirst(c));
    if (cycleFirst(c) >= i0) out.push(draw('line', {class: 'cycle', x1: x(a), x2: x(a), y1: 2, y2: bottom}));
    const name = SHORT[cycleKind(c)];
    if ((Math.min(i1 + 1, cycleEnd(c)) - a) * UNIT > 7 * name.length) out.push(draw('text', {x: x(a) + 4, y: 11}, name));
  }
  TRACES.forEach((name, n) => {
    const y = TOP + n * PITCH;
    const signal = SIGNALS.indexOf(name);
    out.push(draw('text', {class: signal >= 0 ? 'low' : '', x: 4, y: y + 12}, name));
    if (name === 'CLK') out.push(draw('path', {d: levels((i) => i % 2 === 0, y, i0, i1, x)}));
    else if (signal >= 0) out.push(draw('path', {d: levels((i) => !lit(i, signal), y, i0, i1, x)}));
    else out.push(...busTrace(name[0] === 'A' ? [hasAddress, address, 4] : [hasData, data, 2], y, i0, i1, x));
  });
  const svg = $('wave');
  svg.setAttribute('viewBox', `0 0 ${LEFT + WINDOW * UNIT + 4} ${bottom + 2}`);
  svg.setAttribute('aria-label', `timing diagram from half clock ${label(i0)} to ${label(i1)}; ${busWords(at).join('; ')}`);
  svg.replaceChildren(...out);
  if (window.innerWidth < 700) $('wavebox').scrollLeft = 10000; // the newest stays in sight
}

// busTrace draws stretches of equal value as closed shapes with the value
// inside, and a line half way up where nobody drives the bus.
function busTrace([driven, value, width], y, i0, i1, x) {
  const out = [];
  const mid = y + HIGH / 2;
  for (let a = i0, b; a <= i1; a = b) {
    for (b = a + 1; b <= i1 && driven(b) === driven(a) && (!driven(a) || value(b) === value(a)); b++);
    const [p, q] = [x(a), x(b)];
    if (!driven(a)) {
      out.push(draw('path', {class: 'loose', d: `M${p} ${mid}L${q} ${mid}`}));
      continue;
    }
    out.push(draw('path', {d: `M${p} ${mid}L${p + 3} ${y}L${q - 3} ${y}L${q} ${mid}L${q - 3} ${y + HIGH}L${p + 3} ${y + HIGH}Z`}));
    if (q - p >= 10 * width) out.push(draw('text', {class: 'mid', x: (p + q) / 2, y: y + 11.5}, hex(value(a), width)));
  }
  return out;
}

// --- find me

let [care, want] = [0, 0]; // which lamps are known, and which of these are lit
const asked = new Map();
const WORDS = {any: 'unknown', on: 'lit', off: 'dark'};

function askedLamp(bit) {
  const e = element('button', {type: 'button', class: 'lamp any', 'data-signal': signalName(bit)});
  e.addEventListener('click', () => {
    // unknown, lit, dark, unknown
    if (!(care >>> bit & 1)) setAsked(bit, 1);
    else setAsked(bit, want >>> bit & 1 ? 0 : undefined);
    writeAsked(bit);
    find();
  });
  asked.set(bit, e);
  return e;
}

function setAsked(bit, v) {
  const mask = 2 ** bit;
  care = (v === undefined ? care & ~mask : care | mask) >>> 0;
  want = (v ? want | mask : want & ~mask) >>> 0;
  const e = asked.get(bit);
  const state = v === undefined ? 'any' : v ? 'on' : 'off';
  e.className = 'lamp ' + state;
  e.textContent = v === undefined ? '?' : bit >= 24 ? state : v;
  e.setAttribute('aria-label', signalName(bit) + ': ' + WORDS[state]);
}

$('ask').append(bank('address', 'bits', fours(15, 0), signalName, askedLamp), bank('data', 'bits', fours(23, 16), signalName, askedLamp),
  bank('control', 'control', [controls], signalName, askedLamp));
const FIELDS = [['ask-address', 15, 0], ['ask-data', 23, 16]];

// writeAsked puts what was pressed into the boxes.
function writeAsked(bit) {
  const [id, high, low] = bit < 16 ? FIELDS[0] : bit < 24 ? FIELDS[1] : ['ask-control'];
  let s = '';
  if (id === 'ask-control') {
    s = [...controls.filter((b) => care >>> b & want >>> b & 1).map(signalName),
      ...controls.filter((b) => care >>> b & ~want >>> b & 1).map((b) => 'not ' + signalName(b))].join(', ');
  } else {
    const bits = Array.from({length: high - low + 1}, (_, k) => care >>> high - k & 1 ? want >>> high - k & 1 : '?');
    if (bits.some((b) => b !== '?')) s = bits.join('').replace(/(....)(?=.)/g, '$1 ');
  }
  $(id).value = s;
  $(id).removeAttribute('aria-invalid');
}

// readBits reads hex digits or, as many as there are lamps, binary ones; ? is
// an unknown one. It gives a list of 0, 1 and undefined, the highest first.
function readBits(s, n) {
  s = s.replace(/\s/g, '');
  if (s.length === n && /^[01?]+$/.test(s)) return [...s].map((c) => c === '?' ? undefined : Number(c));
  s = s.replace(/^(0x|\$)/i, '').replace(/h$/i, '');
  if (s.length === n / 4 + 1 && s[0] === '0') s = s.slice(1); // 0FFFFH
  if (s.length > n / 4 || !/^[0-9a-f?]*$/i.test(s)) return null;
  if (s === '') return Array(n).fill(undefined);
  return [...s.padStart(n / 4, '0')].flatMap((c) => c === '?' ? Array(4).fill(undefined) : [...parseInt(c, 16).toString(2).padStart(4, '0')].map(Number));
}

function readControls(s) {
  const bits = Array(controls.length).fill(undefined);
  let v = 1;
  for (const word of s.toUpperCase().replace(/[-!]/g, ' NOT ').split(/[\s,;]+/).filter(Boolean)) {
    const k = SIGNALS.indexOf(word);
    if (word === 'NOT') v = 0;
    else if (k < 0) return null;
    else {
      bits[controls.length - 1 - k] = v;
      v = 1;
    }
  }
  return bits;
}

function typed(id, high, bits) {
  $(id).setAttribute('aria-invalid', bits === null);
  if (bits) bits.forEach((b, k) => setAsked(high - k, b));
  find();
}
for (const [id, high, low] of FIELDS) $(id).addEventListener('input', () => typed(id, high, readBits($(id).value, high - low + 1)));
$('ask-control').addEventListener('input', () => typed('ask-control', 30, readControls($('ask-control').value)));
$('ask-clear').addEventListener('click', () => {
  for (const bit of asked.keys()) {
    setAsked(bit, undefined);
    writeAsked(bit);
  }
  find();
});

const ones = (v) => {
  let n = 0;
  for (; v; v = (v & v - 1) >>> 0) n++;
  return n;
};
const TOLERANT = 4; // lamps that must be given before one may be wrong
const LISTED = 12; // of each sort, but of those with a wrong lamp
const DOUBTFUL = 3; // where there are better ones

// find lists where the lamps show what is asked, nearest first: first where all
// agree, then where they agree as far as the buses are driven, then where one
// lamp differs. Half clocks of one machine cycle in a row are one entry.
function find() {
  const list = $('found');
  const bad = [...FIELDS.map(([id]) => id), 'ask-control'].filter((id) => $(id).getAttribute('aria-invalid') === 'true');
  if (bad.length || care === 0) {
    list.replaceChildren();
    $('found-said').textContent = !bad.length ? '' : bad[0] === 'ask-control' ? 'control lamps are ' + SIGNALS.join(' ') + '; a dark one is "not RD"'
      : (bad[0] === 'ask-data' ? 'data is 2 hex or 8' : 'an address is 4 hex or 16') + ' binary digits; ? is one you do not know';
    return;
  }
  const groups = [[], [], []];
  const step = parity() < 0 ? 1 : 2;
  let open = null;
  for (let i = Math.max(parity(), 0); i < count; i += step) {
    let diff = ((halves[2 * i] ^ want) & care) >>> 0;
    let known = care;
    if (!hasData(i)) known &= ~0xFF0000;
    if (!hasAddress(i)) known &= ~0xFFFF;
    known >>>= 0;
    diff = (diff & known) >>> 0;
    if (known === 0 || (diff & diff - 1) !== 0) continue;
    if (diff && ones(known) < TOLERANT) continue;
    const sort = diff ? 2 : known !== care ? 1 : 0;
    if (open && open.last + step === i && open.sort === sort && open.diff === diff && i < open.end) {
      open.last = i;
      continue;
    }
    open = {first: i, last: i, sort, diff, end: cycleEnd(cycleAt(i))};
    groups[sort].push(open);
  }
  const away = (g) => at < g.first ? g.first - at : at > g.last ? at - g.last : 0;
  const entries = [];
  const total = groups.map((g) => g.length);
  groups.forEach((g, sort) => entries.push(...g.sort((a, b) => away(a) - away(b) || a.first - b.first).slice(0, sort === 2 && total[0] ? DOUBTFUL : LISTED)));
  list.replaceChildren(...entries.map((g) => element('li', null, found(g, away(g)))));
  const parts = [];
  if (total[0]) parts.push(total[0] + (total[0] === 1 ? ' place' : ' places') + ' where all of it is so');
  if (total[1]) parts.push(total[1] + ' where it is so as far as the bus is driven');
  if (total[2]) parts.push(total[2] + ' where one lamp differs');
  $('found-said').textContent = !parts.length ? 'nowhere in this run, not even with one lamp read wrongly'
    : parts.join(', ') + '; those nearest to clock ' + label(at) + ' first' + (total[0] + total[1] + total[2] > entries.length ? '; not all are listed' : '');
}

// found makes the entry of a place.
function found(g, away) {
  const i = at < g.first ? g.first : at > g.last ? g.last : at;
  const p = place(cycleInst(cycleAt(i)));
  const clocks = Math.ceil(away / 2);
  const parts = [element('b', null, 'clock ' + label(g.first) + (g.last > g.first ? '–' + label(g.last) : '')), ' ',
    away === 0 ? '(here)' : clocks + (i > at ? ' on' : ' back'), ' · ', text(i), p.label ? ' · ' + p.label : ''];
  if (g.diff) {
    const bit = 31 - Math.clz32(g.diff);
    parts.push(' · ', element('span', {class: 'off'}, signalName(bit) + ' differs: ' + (want >>> bit & 1 ? 'dark here, you read it lit' : 'lit here, you read it dark')));
  } else if (g.sort === 1) parts.push(' · ', element('span', {class: 'off'}, hasAddress(i) ? 'the data bus floats here' : 'the buses float here'));
  const b = element('button', {type: 'button'}, ...parts);
  b.addEventListener('click', () => { stop(); go(i); });
  return b;
}

// --- print: the run as a table

function clockBox(id, otherwise) {
  const n = Number($(id).value);
  return Number.isInteger(n) && n >= 1 && n <= clockOf(count - 1) ? n : otherwise;
}

function paper() {
  const first = clockBox('print-from', 1);
  const last = Math.max(first, clockBox('print-to', clockOf(count - 1)));
  const rows = [];
  for (let c = cycleAt(2 * (first - 1)); c < cycles.length / 4 && cycleFirst(c) < 2 * last; c++) {
    const i = cycleFirst(c);
    let all = 0;
    let value = '';
    for (let j = i; j < cycleEnd(c); j++) {
      all |= halves[2 * j];
      if (hasData(j)) value = hex(data(j), 2);
    }
    const p = place(cycleInst(c));
    const tr = row('td', String(clockOf(i)), SHORT[cycleKind(c)], cycleT(c) + ' T', hasAddress(i) ? hex(address(i), 4) : '', value,
      ...SIGNALS.map((s, k) => all >>> 24 + k & 1 ? s : '-'), text(i), p.at);
    if (insts[10 * cycleInst(c)] === i) tr.className = 'first';
    rows.push(tr);
  }
  $('paper').replaceChildren(element('p', null, `Clocks ${first} to ${last} of ${clockOf(count - 1)}, a row for each machine cycle; lamps that are lit at any time in it.`),
    element('table', null, element('thead', null, row('th', 'clock', 'cycle', 'length', 'address', 'data', ...SIGNALS, 'what happens', 'source')), element('tbody', null, ...rows)));
}
window.addEventListener('beforeprint', paper);
window.addEventListener('afterprint', () => $('paper').replaceChildren());
$('print').addEventListener('click', () => window.print());
$('print-from').value = 1;
$('print-to').value = Math.min(clockOf(count - 1), 2000); // some 15 sheets

// ---

function render() {
  renderLamps();
  renderNow();
  renderSource();
  renderRegisters();
  renderPorts();
  renderMap();
  renderWave();
}
$('rest').value = run.restHigh ? 'high' : 'low';
$('rest').addEventListener('change', find);
if (run.rate && run.rate <= 1e9) $('rate').value = run.rate / 1e6; // the board's own, where one can follow it
for (const bit of asked.keys()) setAsked(bit, undefined);
go(landing(0));
