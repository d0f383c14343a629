// What a guest may still be served, by the allowance that the server sent: amounts, and no law.

// Returns the reasons against a glass at an instant; none where it may be served.
export function fits(allowance, glass, now) {
  if (glass.free) return [];
  const why = [...allowance.blocked, ...glass.never];
  if (now < allowance.from || now >= allowance.until) why.push("hours");
  if (now < allowance.not_before) why.push("wait");
  for (const [key, wanted] of Object.entries(glass.cost)) {
    const left = remainder(allowance, key, now);
    if (left !== null && wanted && wanted > left) why.push(key.split("@")[0]);
  }
  return why;
}

// Returns what is left of a limit at an instant; null for a limit of other guests' tickets.
export function remainder(allowance, key, now) {
  const left = allowance.left[key] ?? allowance.left[key.split("@")[0]];
  if (!left) return null;
  const back = allowance.refills.filter(([at, limit]) => limit === key && at <= now);
  return left[0] + back.reduce((sum, [, , amount]) => sum + amount, 0);
}

// Takes a served glass from an allowance.
export function spend(allowance, glass, at) {
  if (glass.free) return;
  for (const [key, amount] of Object.entries(glass.cost)) {
    const shared = allowance.left[key.split("@")[0]];
    if (!allowance.left[key] && shared) allowance.left[key] = [...shared];
    const left = allowance.left[key];
    if (!left) continue;
    left[0] -= amount;
    if (left[1]) allowance.refills.push([at + left[1], key, amount]);
  }
  if (allowance.gap) allowance.not_before = Math.max(allowance.not_before, at + allowance.gap);
}
