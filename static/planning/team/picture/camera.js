// Where a place of the table is in a picture (the camera as the server fitted it), and the picture straightened by that.

// Pixels of the measured picture of places (x, y) in mm on the table; null behind the camera.
export function pixelOf({ focal, middle, k1, k2, rotation, place }, x, y) {
  const from = [x - place[0], y - place[1], -place[2]];
  const [right, down, ahead] = rotation.map((row) => row[0] * from[0] + row[1] * from[1] + row[2] * from[2]);
  if (ahead <= 0) return null;
  const a = right / ahead;
  const b = down / ahead;
  const square = a * a + b * b;
  const grow = focal * (1 + square * (k1 + k2 * square));
  return [middle[0] + grow * a, middle[1] + grow * b];
}

// The picture that the person chose, as pixels to be read; no larger than a tablet has room for.
export async function readPicture(file, most = 2600) {
  const whole = await createImageBitmap(file, { imageOrientation: "from-image" });
  const shrink = Math.min(1, most / Math.max(whole.width, whole.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(whole.width * shrink);
  canvas.height = Math.round(whole.height * shrink);
  const pen = canvas.getContext("2d", { willReadFrequently: true });
  pen.drawImage(whole, 0, 0, canvas.width, canvas.height);
  whole.close();
  return pen.getImageData(0, 0, canvas.width, canvas.height);
}

// A rectangle of the table, from its far left corner (left, far) in mm, drawn so that it fills the canvas.
export function straighten(canvas, picture, camera, { left, far, width, depth }) {
  const pen = canvas.getContext("2d");
  const out = pen.createImageData(canvas.width, canvas.height);
  const scale = picture.width / camera.size[0];
  const { data: from, width: wide, height: high } = picture;
  const { data: to } = out;
  for (let row = 0; row < canvas.height; row += 1) {
    const y = far - ((row + 0.5) / canvas.height) * depth;
    for (let column = 0; column < canvas.width; column += 1) {
      const pixel = pixelOf(camera, left + ((column + 0.5) / canvas.width) * width, y);
      const at = 4 * (row * canvas.width + column);
      to[at + 3] = 255;
      if (!pixel) continue;
      const u = (pixel[0] + 0.5) * scale - 0.5;
      const v = (pixel[1] + 0.5) * scale - 0.5;
      const u0 = Math.floor(u);
      const v0 = Math.floor(v);
      if (u0 < 0 || v0 < 0 || u0 >= wide - 1 || v0 >= high - 1) continue;
      const p = u - u0;
      const q = v - v0;
      const here = 4 * (v0 * wide + u0);
      for (let k = 0; k < 3; k += 1) {
        const top = from[here + k] * (1 - p) + from[here + 4 + k] * p;
        const low = from[here + 4 * wide + k] * (1 - p) + from[here + 4 * wide + 4 + k] * p;
        to[at + k] = top * (1 - q) + low * q;
      }
    }
  }
  pen.putImageData(out, 0, 0);
}
