// Talking to the server: one shape for answers and for errors.

export class Refused extends Error {
  constructor(status, data) {
    super(data.error || `The server answered ${status}.`);
    this.status = status;
    this.data = data;
  }
}

async function answer(response) {
  const data = await response.json().catch(() => ({}));
  if (!response.ok) throw new Refused(response.status, data);
  return data;
}

export async function get(path) {
  return answer(await fetch(path, { credentials: "same-origin" }));
}

export async function post(path, data) {
  return answer(
    await fetch(path, {
      method: "POST",
      credentials: "same-origin",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(data),
    }),
  );
}
