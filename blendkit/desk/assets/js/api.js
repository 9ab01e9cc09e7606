// Questions to the desk, each on this machine.

export class Fault extends Error {
  constructor(status, fault) {
    super(fault.message || "The desk did not answer.");
    this.status = status;
    this.problems = fault.problems || [];
  }
}

async function answer(request) {
  let response;
  try {
    response = await request;
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Fault(0, { message: "The desk is closed. Start it again with: blendkit desk" });
  }
  const type = response.headers.get("content-type") || "";
  if (!response.ok) {
    const fault = type.includes("json") ? await response.json() : { message: (await response.text()).trim() };
    throw new Fault(response.status, fault);
  }
  return type.includes("json") ? response.json() : response.blob();
}

function query(given) {
  const pairs = new URLSearchParams();
  for (const [key, value] of Object.entries(given || {})) {
    if (value === null || value === undefined || value === "") continue;
    for (const one of Array.isArray(value) ? value : [value]) pairs.append(key, one);
  }
  const text = pairs.toString();
  return text ? `?${text}` : "";
}

export const address = (path, given) => `/api${path}${query(given)}`;
export const get = (path, given, signal) => answer(fetch(address(path, given), { signal }));

export const post = (path, body = {}) =>
  answer(
    fetch(`/api${path}`, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(
        Object.fromEntries(Object.entries(body).filter(([, value]) => value !== undefined)),
      ),
    }),
  );

export const send = (path, given, file) =>
  answer(
    fetch(address(path, given), {
      method: "POST",
      headers: { "content-type": "application/octet-stream", "x-file-name": encodeURIComponent(file.name) },
      body: file,
    }),
  );

// Follow long work until it ends; `show` gets every view of it. Returns the result.
export async function follow(job, show) {
  for (let wait = 60; ; wait = Math.min(wait * 1.3, 400)) {
    const view = await get("/job", { job });
    show(view);
    if (view.state === "done") return view.result;
    if (view.state === "failed") throw new Fault(422, view.fault);
    if (view.state === "stopped") throw new Fault(499, { message: "Stopped. Nothing was written." });
    await new Promise((go) => setTimeout(go, wait));
  }
}
