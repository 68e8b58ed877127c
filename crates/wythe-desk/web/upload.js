// Recordings are sent one after the other, with their progress; a stop keeps nothing of the last.

import { refresh } from "./live.js";

/** Listens to the place where recordings are brought. */
export function handleUploads() {
  const place = document.querySelector("[data-upload]");
  const input = document.getElementById("files");
  const said = document.getElementById("upload-said");
  const bar = document.getElementById("upload-share");
  const stop = document.getElementById("upload-stop");
  if (!place || !(input instanceof HTMLInputElement) || !said || !stop) return;
  if (!(bar instanceof HTMLProgressElement)) return;

  /** @param {File} file */
  const send = (file) =>
    new Promise((done) => {
      const line = new XMLHttpRequest();
      line.open("PUT", `/upload/${encodeURIComponent(file.name)}`);
      line.upload.onprogress = (event) => {
        bar.value = event.loaded / Math.max(event.total, 1);
      };
      stop.onclick = () => line.abort();
      line.onload = () => {
        const answer = JSON.parse(line.responseText || "{}");
        said.textContent = line.status < 300 ? `${file.name} is in the project.` : `Not taken: ${answer.why}.`;
        done(line.status < 300);
      };
      line.onerror = () => {
        said.textContent = `${file.name}: the transfer broke off; nothing was kept.`;
        done(false);
      };
      line.onabort = () => {
        said.textContent = `${file.name}: stopped; nothing was kept.`;
        done(false);
      };
      line.send(file);
    });

  /** @param {Iterable<File>} files */
  const take = async (files) => {
    bar.hidden = stop.hidden = false;
    for (const file of files) {
      said.textContent = `Sending ${file.name}`;
      if (!(await send(file))) break;
    }
    bar.hidden = stop.hidden = true;
    input.value = "";
    await refresh();
  };

  input.addEventListener("change", () => void take([...(input.files ?? [])]));
  place.addEventListener("dragover", (event) => event.preventDefault());
  place.addEventListener("drop", (event) => {
    event.preventDefault();
    if (event instanceof DragEvent) void take([...(event.dataTransfer?.files ?? [])]);
  });
}
