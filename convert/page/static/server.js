// Talks with himotif on this machine. Every refusal comes as a sentence for the maker.

const TAB = crypto.randomUUID();
let workId = "";

export const useWork = (id) => {
  workId = id;
};

export class Refused extends Error {
  constructor(text, more = {}) {
    super(text);
    this.fields = more.fields ?? null;
    this.buttons = more.buttons ?? {};
    this.superseded = more.superseded ?? false;
    this.gone = more.gone ?? false;
    this.lost = more.lost ?? false;
    this.conflict = more.conflict ?? false;
  }
}

const STOPPED =
  "himotif has stopped. Your work is kept in this window: start himotif page again and go on there.";

async function send(path, options = {}) {
  let response;
  const headers = { "X-Tab": TAB, "X-Work": workId, ...options.headers };
  try {
    response = await fetch(path, { ...options, headers });
  } catch (error) {
    if (error.name === "AbortError") throw new Refused("", { superseded: true });
    throw new Refused(STOPPED, { lost: true });
  }
  if (response.ok) return response;
  let plain = {};
  try {
    plain = await response.json();
  } catch {
    // no sentence came along; ours must do
  }
  if (response.status === 404 && path.startsWith("api/")) {
    throw new Refused(
      "himotif was started again. Your work is kept: go on in the newest window.", { lost: true },
    );
  }
  throw new Refused(plain.error ?? "This did not work. Try it once more.", {
    fields: plain.fields,
    buttons: plain.buttons,
    gone: response.status === 410,
    conflict: response.status === 409,
  });
}

const asJson = (body, signal) => ({
  method: "POST",
  headers: { "Content-Type": "application/json" },
  body: JSON.stringify(body),
  signal,
});

// Ask with plain values; returns plain values.
export async function ask(what, body, signal) {
  const plain = await (await send(`api/${what}`, asJson(body, signal))).json();
  if (plain?.superseded) throw new Refused("", plain);
  return plain;
}

// Ask, and let everything wait for the answer.
export function askNow(what, body) {
  const request = new XMLHttpRequest();
  request.open("POST", `api/${what}`, false);
  request.setRequestHeader("Content-Type", "application/json");
  request.send(JSON.stringify(body));
  if (request.status !== 200) throw new Refused("This did not work. Try it once more.");
  return JSON.parse(request.responseText);
}

export const get = async (what) => (await send(`api/${what}`)).json();

// Ask for values that come one by one.
export async function* askEach(what, body, signal) {
  const response = await send(`api/${what}`, asJson(body, signal));
  const reader = response.body.pipeThrough(new TextDecoderStream()).getReader();
  let held = "";
  for (;;) {
    let part;
    try {
      part = await reader.read();
    } catch (error) {
      if (error.name === "AbortError") throw new Refused("", { superseded: true });
      throw new Refused(STOPPED, { lost: true });
    }
    held += part.value ?? "";
    const lines = held.split("\n");
    held = lines.pop();
    for (const line of lines) {
      const plain = JSON.parse(line);
      if (plain.superseded) throw new Refused("", plain);
      if (plain.error) throw new Refused(plain.error);
      yield plain;
    }
    if (part.done) return;
  }
}

// Bring a file; returns what himotif made of it.
export async function bring(what, file) {
  const response = await send(`api/bring/${what}`, {
    method: "POST",
    headers: {
      "Content-Type": "application/octet-stream",
      "X-File-Name": encodeURIComponent(file.name || "pasted.png"),
    },
    body: file,
  });
  return response.json();
}

export const sample = async (what, name) =>
  (await send(`api/sample/${what}/${encodeURIComponent(name)}`, { method: "POST" })).json();

// Ask for a file; returns it with its name.
export async function fetchFile(what, body) {
  const response = await send(`api/${what}`, asJson(body));
  const named = /filename\*?=(?:UTF-8'')?"?([^";]+)/i.exec(
    response.headers.get("Content-Disposition") ?? "",
  );
  return { name: named ? decodeURIComponent(named[1]) : what, blob: await response.blob() };
}

export function picture(path, asked = {}) {
  const address = path.startsWith("api/") ? `${path}?${new URLSearchParams({ work: workId, ...asked })}` : path;
  return new Promise((resolve, reject) => {
    const image = new Image();
    image.onload = () => resolve(image);
    image.onerror = () => reject(new Refused("A picture did not come. Try it once more."));
    image.src = address;
  });
}

// Save a file where she keeps her files.
export function give(blob, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
