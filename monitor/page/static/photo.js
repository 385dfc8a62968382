"use strict";
// A photo is made small before it goes: upright, at most 1,600 px on its long side, a JPEG of at most 400 KB. What a camera
// wrote into it stays on the phone. One that this browser cannot read goes as it is, and the yard says what is wrong with it.
const photo = (() => {
  const LONG = 1600, MOST = 400000, SMALL = new WeakSet();
  let ready = Promise.resolve();
  const text = (blob) => new Promise((done, fail) => {
    const reader = new FileReader();
    reader.onload = () => done(reader.result);
    reader.onerror = () => fail(reader.error);
    reader.readAsDataURL(blob);
  });
  const fileOf = (blob) => {
    const file = new File([blob], "photo.jpg", { type: "image/jpeg" });
    SMALL.add(file);
    return file;
  };
  const shrunk = async (file) => {
    // An image element turns a picture upright by itself.
    const image = new Image(), canvas = document.createElement("canvas");
    image.src = await text(file);
    await image.decode();
    for (let long = LONG, fine = .85; ;) {
      const scale = Math.min(1, long / Math.max(image.naturalWidth, image.naturalHeight));
      canvas.width = Math.max(1, Math.round(image.naturalWidth * scale));
      canvas.height = Math.max(1, Math.round(image.naturalHeight * scale));
      const pen = canvas.getContext("2d");
      pen.imageSmoothingQuality = "high";
      pen.drawImage(image, 0, 0, canvas.width, canvas.height);
      const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", fine));
      if (!blob || blob.size <= MOST) return [fileOf(blob), canvas];
      if (fine > .5) fine -= .15; else long *= .8;
    }
  };
  const put = (field, file) => { const box = new DataTransfer(); box.items.add(file); field.files = box.files; };
  const tell = (field, words, picture) => {
    const row = field.closest("p");
    for (const old of row.querySelectorAll("canvas, output")) old.remove();
    if (!words) return;
    const said = document.createElement("output");
    said.className = "hint";
    said.textContent = words;
    row.append(...(picture ? [picture] : []), said);
  };
  const take = async (field, file) => {
    tell(field, "Making it smaller …");
    try {
      const [small, picture] = await shrunk(file);
      if (field.files[0] !== file) return;
      put(field, small);
      tell(field, `${picture.width} × ${picture.height} px, ${Math.round(small.size / 1000)} KB; it does not say where or when it was taken`, picture);
    } catch { if (field.files[0] === file) tell(field, "This browser cannot make it smaller; it goes as it is."); }
  };
  document.addEventListener("change", (event) => {
    const field = event.target, file = field.type === "file" && field.files[0];
    if (file && !SMALL.has(file)) ready = take(field, file); else if (field.type === "file") tell(field, "");
  });
  document.addEventListener("reset", (event) => { for (const one of event.target.querySelectorAll("[type=file]")) tell(one, ""); });
  return {
    // Resolves when no photo is being made small any more.
    ready: () => ready,
    // A photo as text that this device can keep; "" if it was not made small.
    kept: async (file) => SMALL.has(file) ? text(file) : "",
  };
})();
