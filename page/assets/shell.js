'use strict';
// What both pages share: keys, folds, and a line that says what happened.
const shell = {
  keys: {},
  say(text) {
    const out = document.getElementById('said');
    if (out) out.textContent = text;
  },
  folds(open) {
    for (const d of document.querySelectorAll('details.fold')) d.open = open;
  },
  // show opens the folds around an element and brings it into view.
  show(element) {
    for (let d = element.closest('details'); d; d = d.parentElement.closest('details')) d.open = true;
    element.scrollIntoView({block: 'center'});
  },
};
document.addEventListener('keydown', (e) => {
  if (e.ctrlKey || e.altKey || e.metaKey) return;
  if (/^(INPUT|TEXTAREA|SELECT)$/.test(e.target.tagName)) {
    if (e.key === 'Escape') e.target.blur();
    return;
  }
  const f = shell.keys[e.key];
  if (f) {
    e.preventDefault();
    f();
  }
});
shell.keys.o = () => shell.folds(true);
shell.keys.c = () => shell.folds(false);
for (const b of document.querySelectorAll('button[data-key]')) {
  b.addEventListener('click', () => shell.keys[b.dataset.key]());
}
