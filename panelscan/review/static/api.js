// Talking to the server: one shape for answers and for errors.

const KEEPALIVE_LETTERS = 60000;

export class Refused extends Error {
  constructor(status, data) {
    super(data.error || `The server answered ${status}.`);
    this.status = status;
    this.data = data;
  }
}

async function answer(asked) {
  let response;
  try {
    response = await asked;
  } catch {
    throw new Refused(0, { error:
      "The server does not answer. Start panelscan review again; what was saved is saved." });
  }
  const data = await response.json().catch(() => ({}));
  if (!response.ok) throw new Refused(response.status, data);
  return data;
}

export function get(path) {
  return answer(fetch(path, { credentials: "same-origin" }));
}

// A request that is under way when the tab is closed still arrives (keepalive).
export function post(path, data) {
  const body = JSON.stringify(data);
  return answer(fetch(path, {
    method: "POST",
    credentials: "same-origin",
    headers: { "Content-Type": "application/json" },
    keepalive: body.length < KEEPALIVE_LETTERS,
    body,
  }));
}
