"use strict";
const drop = document.querySelector(".drop");
if (drop) {
  const files = drop.querySelector("#files"), said = drop.querySelector("#dropped");
  const stop = (event) => { event.preventDefault(); };
  for (const name of ["dragenter", "dragover"]) drop.addEventListener(name, (event) => { stop(event); drop.classList.add("over"); });
  drop.addEventListener("dragleave", () => drop.classList.remove("over"));
  for (const name of ["dragover", "drop"]) document.addEventListener(name, stop);
  drop.addEventListener("drop", (event) => {
    drop.classList.remove("over");
    if (event.dataTransfer.files.length) { files.files = event.dataTransfer.files; drop.requestSubmit(); }
  });
  drop.addEventListener("submit", () => { said.textContent = "Reading…"; });
}
