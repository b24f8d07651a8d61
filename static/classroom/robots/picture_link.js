// Measuring by pictures is loaded when somebody asks for it: most sheets are filled by tape.

import { say } from "../../site/recall.js";

const link = document.getElementById("run-picture-link");
link?.addEventListener("click", async (event) => {
  event.preventDefault();
  try {
    const { openPictures } = await import("./by_picture.js");
    await openPictures(link.href, document.querySelector("form:has([name=rows])"));
    link.textContent = say("Measure by pictures");
  } catch { link.textContent = say("Measure by pictures (no network just now)"); }
});
