// Wall time of the kennel's zone, whatever zone the device is set to, and ages in words.

function wallParts(instant, zone) {
  const format = new Intl.DateTimeFormat("en-GB", {
    timeZone: zone, hourCycle: "h23",
    year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", second: "2-digit",
  });
  return Object.fromEntries(format.formatToParts(instant).map((part) => [part.type, Number(part.value)]));
}

function offsetMs(instant, zone) {
  const p = wallParts(instant, zone);
  const shown = Date.UTC(p.year, p.month - 1, p.day, p.hour, p.minute, p.second);
  return shown - Math.floor(instant.getTime() / 1000) * 1000;
}

// The instant at which clocks in `zone` show `text` ("2026-03-29T01:30").  As on the server (RFC 5545, 3.3.5):
// of a repeated time the first is meant, a skipped time moves forward by the gap.
export function instantOf(text, zone) {
  const match = /^(\d{4})-(\d{2})-(\d{2})T(\d{2}):(\d{2})(?::(\d{2}))?$/.exec(text);
  if (!match) return null;
  const [year, month, day, hour, minute, second] = match.slice(1).map((part) => Number(part ?? 0));
  const wall = Date.UTC(year, month - 1, day, hour, minute, second);
  const DAY = 86400000;
  const before = offsetMs(new Date(wall - DAY), zone);
  const after = offsetMs(new Date(wall + DAY), zone);
  const fits = [before, after].filter((offset) => offsetMs(new Date(wall - offset), zone) === offset);
  // The first of two is the one with the larger offset; in a gap nothing fits and the offset before it counts.
  const offset = fits.length ? Math.max(...fits) : before;
  return new Date(wall - offset);
}

export function wallText(instant, zone) {
  const p = wallParts(instant, zone);
  const two = (number) => String(number).padStart(2, "0");
  return `${p.year}-${two(p.month)}-${two(p.day)}T${two(p.hour)}:${two(p.minute)}`;
}

export function timeText(instant, zone) {
  return wallText(instant, zone).slice(11);
}

// "today 07:10", "yesterday 23:55" or "3 Mar 07:10".
export function whenText(instant, zone, now = new Date()) {
  const day = wallText(instant, zone).slice(0, 10);
  if (day === wallText(now, zone).slice(0, 10)) return `today ${timeText(instant, zone)}`;
  if (day === wallText(new Date(now.getTime() - 86400000), zone).slice(0, 10)) {
    return `yesterday ${timeText(instant, zone)}`;
  }
  const date = new Intl.DateTimeFormat("en-GB", { timeZone: zone, day: "numeric", month: "short" }).format(instant);
  return `${date} ${timeText(instant, zone)}`;
}

// The same words as kennel/web/wording.py, so that a page that stands open does not tell old ages.
export function agoText(instant, now = new Date()) {
  const minutes = Math.floor((now.getTime() - instant.getTime()) / 60000);
  if (minutes < -1) return `in ${lengthText(-minutes)}`;
  return minutes < 1 ? "just now" : `${lengthText(minutes)} ago`;
}

function lengthText(minutes) {
  if (minutes < 60) return `${minutes} min`;
  const hours = Math.floor(minutes / 60);
  if (hours < 48) return `${hours} h`;
  const days = Math.floor(hours / 24);
  return days < 70 ? `${days} days` : `${Math.floor(days / 7)} weeks`;
}

export function refreshAges(root = document, now = new Date()) {
  for (const element of root.querySelectorAll("time[data-ago]")) {
    element.textContent = agoText(new Date(element.dateTime), now);
  }
}
