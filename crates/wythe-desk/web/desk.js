// Everything a hand does, begun once per page.

import { handleEdits } from "./edit.js";
import { handleKeys } from "./keys.js";
import { handleLayers } from "./layers.js";
import { follow } from "./live.js";
import { handlePlaces } from "./places.js";
import { handlePlayers } from "./player.js";
import { handlePoints } from "./points.js";
import { handleMaking } from "./making.js";
import { handleOpenings } from "./openings.js";
import { handleSheets } from "./sheet.js";
import { handleStretches } from "./stretches.js";
import { handleTracing } from "./tracing.js";
import { handleUploads } from "./upload.js";
import { handleWalls } from "./walls.js";

/** The choice of light or dark, remembered by this browser. */
function handleTheme() {
  const select = document.getElementById("theme");
  if (!(select instanceof HTMLSelectElement)) return;
  select.value = document.documentElement.dataset.theme ?? "";
  select.addEventListener("change", () => {
    if (select.value) {
      document.documentElement.dataset.theme = select.value;
      localStorage.setItem("wythe-theme", select.value);
    } else {
      delete document.documentElement.dataset.theme;
      localStorage.removeItem("wythe-theme");
    }
  });
}

// First of all, so that what the desk sent is kept as it came.
follow();
handleTheme();
handleEdits();
handleKeys();
handleWalls();
handleOpenings();
handleTracing();
handleStretches();
handlePlaces();
handlePlayers();
handleMaking();
handlePoints();
handleUploads();
handleLayers();
handleSheets();
