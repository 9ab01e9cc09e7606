// The coloured drawing: one picture carries area, tone and line in its channels; colours are looked up,
// never computed.

import { address } from "./api.js";
import { STAGES } from "./facts.js";

const bytes = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
export const rampBytes = (text) => (text ? bytes(text) : null);

async function pixels(url, width, height) {
  const blob = await (await fetch(url)).blob();
  const bitmap = await createImageBitmap(blob, { colorSpaceConversion: "none", premultiplyAlpha: "none" });
  const canvas = new OffscreenCanvas(bitmap.width, bitmap.height);
  const brush = canvas.getContext("2d", { willReadFrequently: true });
  brush.drawImage(bitmap, 0, 0);
  const data = brush.getImageData(0, 0, bitmap.width, bitmap.height).data;
  return { data, tall: bitmap.height > height, size: width * height };
}

export class Drawing {
  constructor(canvas) {
    this.canvas = canvas;
    this.brush = canvas.getContext("2d", { alpha: false });
    this.serial = -1;
    this.setStage(STAGES.length - 1);
  }

  // Another light changes only the tones; so does what is left out to look at the shade's layers apart.
  async loadTones(view, light = "", looking = {}) {
    const answer = await fetch(address("/project/tones", { project: view.project, light, ...looking }));
    if (!answer.ok) throw new Error((await answer.json()).message);
    this.tone = new Uint8Array(await answer.arrayBuffer());
    this.toneSerial = light ? -1 : view.tone;
  }

  // What is painted for each tone, after one of the stages of the work.
  setStage(number) {
    this.stage = Uint8Array.from(STAGES[number][2]);
  }

  // Read the picture for a project's state; areas' pixels are sorted so that one part repaints alone.
  async load(view) {
    const { width_px: width, height_px: height } = view;
    const { data, tall, size } = await pixels(
      address("/project/map", { project: view.project, serial: view.map }),
      width,
      height,
    );
    const sameSize = this.width === width && this.height === height;
    this.width = width;
    this.height = height;
    const area = new Uint16Array(size);
    const tone = new Uint8Array(size);
    const cover = new Uint8Array(size);
    for (let at = 0, from = 0; at < size; at++, from += 4) {
      area[at] = data[from];
      tone[at] = data[from + 1];
      cover[at] = data[from + 2];
    }
    if (tall) for (let at = 0, from = size * 4; at < size; at++, from += 4) area[at] |= data[from] << 8;
    this.area = area;
    this.tone = tone;
    this.cover = cover;
    this.sort(view.areas.length);
    if (!sameSize) {
      this.canvas.width = width;
      this.canvas.height = height;
      this.image = this.brush.createImageData(width, height);
      this.image.data.fill(255);
    }
    this.serial = view.map;
    this.toneSerial = view.tone;
  }

  // What becomes of colours under the line; it changes with the ink of the outline.
  async loadLine(view) {
    const wanted = `${view.project} ${view.outline}`;
    if (this.lineFor === wanted) return;
    this.line = new Uint8Array(
      await (await fetch(address("/project/line", { project: view.project }))).arrayBuffer(),
    );
    this.lineFor = wanted;
  }

  sort(count) {
    const starts = new Uint32Array(count + 2);
    for (let at = 0; at < this.area.length; at++) starts[this.area[at] + 1]++;
    for (let one = 1; one < starts.length; one++) starts[one] += starts[one - 1];
    const next = starts.slice();
    const order = new Uint32Array(this.area.length);
    for (let at = 0; at < this.area.length; at++) order[next[this.area[at]]++] = at;
    this.starts = starts;
    this.order = order;
    this.boxes = new Map();
  }

  // Paint some areas with a ramp of 256 colours, or with one colour.
  paint(areas, ramp, flat) {
    const { data } = this.image;
    const { tone, cover, line, order, starts, stage } = this;
    for (const one of areas) {
      const end = starts[one + 1];
      for (let place = starts[one]; place < end; place++) {
        const at = order[place];
        const from = stage[tone[at]] * 3;
        const under = cover[at] << 8;
        const to = at << 2;
        const red = ramp ? ramp[from] : flat[0];
        const green = ramp ? ramp[from + 1] : flat[1];
        const blue = ramp ? ramp[from + 2] : flat[2];
        data[to] = line[(under + red) * 3];
        data[to + 1] = line[(under + green) * 3 + 1];
        data[to + 2] = line[(under + blue) * 3 + 2];
      }
    }
  }

  show() {
    this.brush.putImageData(this.image, 0, 0);
  }

  // Put on the screen only the box that these areas fill.
  showAreas(areas) {
    let [left, top, right, bottom] = [this.width, this.height, -1, -1];
    for (const one of areas) {
      const box = this.boxOf(one);
      left = Math.min(left, box[0]);
      top = Math.min(top, box[1]);
      right = Math.max(right, box[2]);
      bottom = Math.max(bottom, box[3]);
    }
    if (right >= left)
      this.brush.putImageData(this.image, 0, 0, left, top, right - left + 1, bottom - top + 1);
  }

  boxOf(one) {
    let box = this.boxes.get(one);
    if (box) return box;
    box = [this.width, this.height, -1, -1];
    for (let place = this.starts[one]; place < this.starts[one + 1]; place++) {
      const at = this.order[place];
      const x = at % this.width;
      const y = (at / this.width) | 0;
      if (x < box[0]) box[0] = x;
      if (y < box[1]) box[1] = y;
      if (x > box[2]) box[2] = x;
      if (y > box[3]) box[3] = y;
    }
    this.boxes.set(one, box);
    return box;
  }

  pixelAt(share) {
    const x = Math.min(Math.max(Math.floor(share[0] * this.width), 0), this.width - 1);
    const y = Math.min(Math.max(Math.floor(share[1] * this.height), 0), this.height - 1);
    return y * this.width + x;
  }

  areaAt(share) {
    return this.area[this.pixelAt(share)];
  }

  isLine(share) {
    return this.cover[this.pixelAt(share)] > 127;
  }
}
