// What can be taken back and brought back, told by a page's history alone, so that it works
// after a reload and without end. An undoing can be undone; one action's changes go together.

// Newest action that counts: its revisions, newest first.
export function toTakeBack(history) {
  const live = history.filter((h) => h.counts && !h.undo);
  return live.length ? together(live, live[live.length - 1].group) : [];
}

// Newest taking-back that counts, unless something was done since: its revisions, newest first.
export function toBringBack(history) {
  const byRevision = new Map(history.map((h) => [h.revision, h]));
  for (let i = history.length - 1; i >= 0; i--) {
    const entry = history[i];
    if (!entry.undo) return [];
    if (entry.counts && takesBack(entry, byRevision)) {
      const live = history.filter((h) => h.counts && h.undo);
      return together(live, entry.group);
    }
  }
  return [];
}

// An undoing of an undoing brings back; only every other step takes away.
function takesBack(entry, byRevision) {
  let steps = 0, at = entry;
  while (at && at.undo) { steps += 1; at = byRevision.get(at.of); }
  return steps % 2 === 1;
}

function together(entries, group) {
  return entries.filter((h) => h.group === group).map((h) => h.revision).reverse();
}
