// Spaces that have closed after an extraction, as the chart's form keeps them: one field for each pair of teeth that now
// touch. What a pair may be is for the server to judge; here only the pair around a tooth is found.

const TOUCH = ["present", "implant", "pontic"];

// Where a tooth stands: its jaw, and its count along the arch from the patient's right; a primary tooth stands where its
// successor does.
export function placeOf(tooth) {
  const quadrant = ((Number(tooth[0]) - 1) % 4) + 1;
  const count = Number(tooth[1]);
  const right = quadrant === 1 || quadrant === 4;
  return { upper: quadrant < 3, rank: right ? -count : count - 1 };
}

export class ClosedSpaces {
  // fields: the inputs named "space"; states: gives the state of every tooth of the chart, as [tooth, state] pairs
  constructor(fields, states) {
    this.fields = fields;
    this.states = states;
  }

  // The field whose pair closes over the tooth, if there is one.
  over(tooth) {
    const here = placeOf(tooth);
    return this.fields.find((field) => {
      const pair = field.value.replace(/\s/g, "").split("-");
      if (pair.length !== 2 || pair.some((each) => !/^[1-8][1-8]$/.test(each))) return false;
      const [a, b] = pair.map(placeOf);
      const between = Math.min(a.rank, b.rank) < here.rank && here.rank < Math.max(a.rank, b.rank);
      return a.upper === here.upper && between;
    });
  }

  // The nearest teeth with a contact on both sides of the tooth, the patient's right one first; null without both.
  around(tooth) {
    const here = placeOf(tooth);
    let before = null;
    let after = null;
    for (const [other, state] of this.states()) {
      const place = placeOf(other);
      if (place.upper !== here.upper || !TOUCH.includes(state)) continue;
      if (place.rank < here.rank && (!before || place.rank > placeOf(before).rank)) before = other;
      if (place.rank > here.rank && (!after || place.rank < placeOf(after).rank)) after = other;
    }
    return before && after ? [before, after] : null;
  }

  // Close the space over the tooth, or open it again.
  set(tooth, closed) {
    const present = this.over(tooth);
    if (!closed) {
      if (present) present.value = "";
      return;
    }
    const pair = this.around(tooth);
    if (present || !pair) return;
    let free = this.fields.find((field) => !field.value.trim());
    if (!free) {
      const last = this.fields[this.fields.length - 1];
      free = last.cloneNode();
      free.setAttribute("aria-label", `Closed space ${this.fields.length + 1}`);
      last.after(free);
      this.fields.push(free);
    }
    free.value = pair.join("-");
  }
}
