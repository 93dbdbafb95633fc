/* A phone's picture is many times what a page shows: made small here it travels fast, keeps little room, and is without the place
 * it was taken at. `smaller(file)` promises it; what this browser cannot read stays as it is, for the server draws every picture
 * anew in any case. `smaller.fill(field, file)` puts a file into a form, `smaller.chosen(field)` makes the one that was chosen small.
 */
"use strict";
window.smaller = async (file) => {
  const LONGEST_SIDE = 1600;
  const LARGE_BYTES = 1000000;
  if (file.size < LARGE_BYTES) return file;
  let picture;
  try { picture = await createImageBitmap(file, { imageOrientation: "from-image" }); } catch { return file; }
  const scale = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height));
  const [width, height] = [picture.width, picture.height].map((side) => Math.round(side * scale));
  const canvas = Object.assign(document.createElement("canvas"), { width, height });
  const leaf = canvas.getContext("2d");
  leaf.fillStyle = "white";
  leaf.fillRect(0, 0, width, height);
  leaf.drawImage(picture, 0, 0, width, height);
  picture.close();
  const blob = await new Promise((done) => { canvas.toBlob(done, "image/jpeg", 0.85); });
  if (!blob || blob.size >= file.size) return file;
  return new File([blob], `${file.name.replace(/\.\w+$/, "")}.jpg`, { type: "image/jpeg" });
};
window.smaller.fill = (field, file) => {
  const carrier = new DataTransfer();
  carrier.items.add(file);
  field.files = carrier.files;
};
window.smaller.chosen = async (field) => {
  const [file] = field.files;
  const small = file && await window.smaller(file);
  if (small && small !== file && field.files[0] === file) window.smaller.fill(field, small);
};
/* Where there is no connection a picture lies in the browser until it is sent: what cannot be made small is not taken. */
window.smaller.tooLarge = (file) => (file?.size > 4000000 ? _s("This picture is too large to be kept here. Take another with less detail.") : "");
