// Talks with himotif on this machine. Every refusal comes as a sentence for the maker.

const TAB = crypto.randomUUID();

export class Refused extends Error {
  constructor(text, more = {}) {
    super(text);
    this.fields = more.fields ?? null;
    this.buttons = more.buttons ?? {};
    this.superseded = more.superseded ?? false;
    this.gone = more.gone ?? false;
    this.lost = more.lost ?? false;
  }
}

async function send(path, options) {
  let response;
  try {
    response = await fetch(path, options);
  } catch (error) {
    if (error.name === "AbortError") throw new Refused("", { superseded: true });
    throw new Refused(
      "himotif has stopped. What you see is still here: save the design, start himotif page again, " +
        "and open the design there.",
      { lost: true },
    );
  }
  if (response.ok) return response;
  let plain = {};
  try {
    plain = await response.json();
  } catch {
    // no sentence came along; ours must do
  }
  throw new Refused(plain.error ?? "This did not work. Try it once more.", {
    fields: plain.fields,
    buttons: plain.buttons,
    gone: response.status === 410,
  });
}

// Ask with plain values; returns plain values.
export async function ask(what, body, signal) {
  const response = await send(`api/${what}`, {
    method: "POST",
    headers: { "Content-Type": "application/json", "X-Tab": TAB },
    body: JSON.stringify(body),
    signal,
  });
  const plain = await response.json();
  if (plain.superseded) throw new Refused("", plain);
  return plain;
}

export async function start() {
  return (await send("api/start", {})).json();
}

// Bring a file; returns what himotif made of it.
export async function bring(what, file) {
  const response = await send(`api/bring/${what}`, {
    method: "POST",
    headers: {
      "Content-Type": "application/octet-stream",
      "X-File-Name": encodeURIComponent(file.name || "pasted.png"),
      "X-Tab": TAB,
    },
    body: file,
  });
  return response.json();
}

export async function sample(what, name) {
  const response = await send(`api/sample/${what}/${encodeURIComponent(name)}`, {
    method: "POST",
    headers: { "X-Tab": TAB },
  });
  return response.json();
}

// Ask for a file; returns it with its name.
export async function fetchFile(what, body) {
  const response = await send(`api/${what}`, {
    method: "POST",
    headers: { "Content-Type": "application/json", "X-Tab": TAB },
    body: JSON.stringify(body),
  });
  const named = /filename\*?=(?:UTF-8'')?"?([^";]+)/i.exec(
    response.headers.get("Content-Disposition") ?? "",
  );
  return { name: named ? decodeURIComponent(named[1]) : what, blob: await response.blob() };
}

export function picture(address) {
  return new Promise((resolve, reject) => {
    const image = new Image();
    image.onload = () => resolve(image);
    image.onerror = () => reject(new Refused("A picture did not come. Try it once more."));
    image.src = address;
  });
}
