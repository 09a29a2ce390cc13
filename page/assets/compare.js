// The comparison: jumping to an address and from difference to difference.
const rows = Array.from(document.querySelectorAll('.rows .row:not(.head)'));
const box = document.getElementById('address');

function mark(row) {
  for (const r of document.querySelectorAll('.row.here')) r.classList.remove('here');
  row.classList.add('here');
  shell.show(row);
}

// holds tells whether the row's line on that side covers the address.
function holds(row, side, address) {
  if (row.dataset[side] === undefined) return false;
  const first = parseInt(row.dataset[side], 16);
  const size = Math.max(1, Number(row.dataset[side + 'size']));
  return address >= first && address < first + size;
}

function jump(text) {
  const digits = text.trim().replace(/^(\$|0x)/i, '').replace(/h$/i, '');
  if (!/^[0-9a-f]{1,7}$/i.test(digits)) {
    shell.say('an address is hex digits, such as 0100');
    return;
  }
  const address = parseInt(digits, 16);
  const name = digits.toUpperCase().padStart(4, '0');
  for (const side of ['new', 'old']) {
    // the last line that covers it: later ones win where two fill one cell,
    // and a label's line stands before the bytes at its address
    const row = rows.findLast((r) => holds(r, side, address));
    if (row) {
      mark(row);
      shell.say(name + ' is in the ' + side + ' line ' + row.querySelectorAll('.line')[side === 'new' ? 1 : 0].textContent);
      return;
    }
  }
  shell.say('no line has ' + name);
}

function step(by) {
  const differ = rows.map((r, i) => i).filter((i) => rows[i].matches('.changed, .added, .removed'));
  const at = rows.findIndex((r) => r.classList.contains('here'));
  const next = by > 0 ? differ.find((i) => i > at) : differ.findLast((i) => at < 0 || i < at);
  if (next === undefined) {
    shell.say('no more differences that way');
    return;
  }
  mark(rows[next]);
  shell.say('difference ' + (differ.indexOf(next) + 1) + ' of ' + differ.length);
}

shell.keys.n = () => step(1);
shell.keys.p = () => step(-1);
shell.keys.g = () => { if (box) { box.focus(); box.select(); } };
if (box) {
  box.addEventListener('keydown', (e) => { if (e.key === 'Enter') jump(box.value); });
  document.getElementById('go').addEventListener('click', () => jump(box.value));
}
