// All that is asked of the engine on this machine. Nothing is asked of anybody else.

/** A fault in the engine's words, with where it is. */
export class Refused extends Error {
  constructor(fault, status) {
    super(fault.text || fault.found || "");
    this.fault = fault;
    this.status = status;
  }
}

async function answered(response) {
  let said;
  try {
    said = await response.json();
  } catch {
    said = {};
  }
  if (response.ok) return said;
  throw new Refused(said.fault ?? { found: `${response.status} ${response.statusText}`, allowed: null, next: null, place: {} }, response.status);
}

export async function get(path) {
  return answered(await fetch(path, { credentials: "same-origin" }));
}

export async function post(path, body = {}) {
  const has = { method: "POST", credentials: "same-origin", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) };
  return answered(await fetch(path, has));
}

export async function sendFile(file) {
  const has = { method: "POST", credentials: "same-origin", headers: { "Content-Type": "application/octet-stream" }, body: file };
  return answered(await fetch(`/file?name=${encodeURIComponent(file.name)}`, has));
}
