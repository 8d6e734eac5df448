// Offers the chart of a room as a picture, which only a script can make: of the
// server's own drawing, at twice its size.
"use strict";

/**
 * @param {HTMLElement} holder of the chart
 * @param {() => number} end of what is shown, s since 1970
 */
function offerPicture(holder, end) {
  const files = document.getElementById("files");
  if (!files || files.querySelector("button")) return;
  const button = Object.assign(document.createElement("button"), { type: "button", textContent: "picture (PNG)" });
  const link = /** @type {HTMLAnchorElement | null} */ (files.querySelector('a[href*=".svg"]'));
  const name = () => `room-${holder.dataset.room}-${new Date(end() * 1000).toISOString().slice(0, 16).replace(/[-:T]/g, "")}.png`;
  button.addEventListener("click", () => link && keepPicture(link.href, name(), (kept) => (holder.dataset.kept = kept)));
  files.append(" ", button);
}

/**
 * @param {string} drawing
 * @param {string} name
 * @param {(kept: string) => void} done
 */
function keepPicture(drawing, name, done) {
  const picture = new Image();
  picture.addEventListener("load", () => {
    const canvas = document.createElement("canvas");
    [canvas.width, canvas.height] = [picture.naturalWidth * 2, picture.naturalHeight * 2];
    canvas.getContext("2d")?.drawImage(picture, 0, 0, canvas.width, canvas.height);
    canvas.toBlob((blob) => {
      if (!blob) return;
      const url = URL.createObjectURL(blob);
      Object.assign(document.createElement("a"), { href: url, download: name }).click();
      done(`${canvas.width}x${canvas.height}, ${blob.size} B`);
      setTimeout(() => URL.revokeObjectURL(url), 10_000);
    }, "image/png");
  });
  picture.src = drawing;
}
