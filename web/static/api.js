// Speaks to the server: JSON there and back, with the form token of the session.

let token = document.querySelector('input[name="csrf"]')?.value ?? "";

/** Version 7 UUID (RFC 9562): 48 bits of time, then randomness. */
export function uuid7(now = Date.now()) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  for (let i = 0; i < 6; i += 1) bytes[i] = Math.floor(now / 2 ** (8 * (5 - i))) % 256;
  bytes[6] = (bytes[6] & 0x0f) | 0x70;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
}

/** Asks for a fresh form token, after signing in anew. */
export async function renewToken() {
  const answer = await fetch("/api/session", { headers: { accept: "application/json" } });
  if (answer.ok) token = (await answer.json()).form_token;
  return answer.ok;
}

/** Sends facts. Gives { status, body }; throws when the server cannot be reached. */
export async function sendFacts(facts) {
  const send = () => fetch("/api/facts", {
    method: "POST",
    headers: { "content-type": "application/json", "x-form-token": token },
    body: JSON.stringify({ device: deviceName(), facts }),
  });
  let answer = await send();
  if (answer.status === 403 && await renewToken()) answer = await send();
  let body = {};
  try { body = await answer.json(); } catch { /* An answer from something in between. */ }
  return { status: answer.status, body };
}

function deviceName() {
  return navigator.userAgentData?.platform || navigator.platform || "phone";
}
