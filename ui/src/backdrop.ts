// SPDX-License-Identifier: GPL-3.0-or-later
// Pictures beneath the map: reading a GeoTIFF or a plain picture, placing it by two known points, drawing it. Nothing is fetched from elsewhere.
import { type Corner } from "./sketch";
import { fileAddress, run } from "./api";

/** Six numbers of a world file: east and north of one pixel to the right, of one down, and of the middle of the upper left pixel. */
export type Place = [number, number, number, number, number, number];
export interface Backdrop {
  id: number;
  name: string;
  width: number;
  height: number;
  place: Place;
}
export interface Picture {
  canvas: HTMLCanvasElement;
  /** Known from the file itself, in `crs`. */
  place: Place | null;
  /** EPSG code the file names, or 0. */
  crs: number;
}

const most = 4096;

/* No side longer than the most; the place follows. */
function fitted(from: HTMLCanvasElement | ImageBitmap, width: number, height: number): { canvas: HTMLCanvasElement; by: number } {
  const by = Math.min(1, most / Math.max(width, height)), canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(width * by));
  canvas.height = Math.max(1, Math.round(height * by));
  canvas.getContext("2d")!.drawImage(from, 0, 0, canvas.width, canvas.height);
  return { canvas, by };
}

/** The place of a picture whose pixels were made larger by `1 / by`, keeping its outer corner where it was. */
export function placeScaled([a, d, b, e, c, f]: Place, by: number): Place {
  const left = c - (a + b) / 2, top = f - (d + e) / 2, s = 1 / by;
  return [a * s, d * s, b * s, e * s, left + ((a + b) * s) / 2, top + ((d + e) * s) / 2];
}

/**
 * The place that brings two pixels onto two points of the ground without stretching: turned, scaled, moved; rows run against north.
 * Null where the two pixels or the two points are one.
 */
export function placeByTwo(pixels: [Corner, Corner], ground: [Corner, Corner]): Place | null {
  const u = pixels[1][0] - pixels[0][0], v = -(pixels[1][1] - pixels[0][1]), square = u * u + v * v;
  const x = ground[1][0] - ground[0][0], y = ground[1][1] - ground[0][1];
  if (square === 0 || (x === 0 && y === 0)) return null;
  const p = (x * u + y * v) / square, q = (y * u - x * v) / square;
  // east = p·column + q·row + …, north = q·column − p·row + …
  const c = ground[0][0] - p * pixels[0][0] - q * pixels[0][1], f = ground[0][1] - q * pixels[0][0] + p * pixels[0][1];
  return [p, q, q, -p, c, f];
}

async function tiffRead(file: File): Promise<Picture> {
  const { fromBlob } = await import("geotiff");
  const tiff = await fromBlob(file), image = await tiff.getImage();
  const width = image.getWidth(), height = image.getHeight(), by = Math.min(1, most / Math.max(width, height));
  const wide = Math.max(1, Math.round(width * by)), tall = Math.max(1, Math.round(height * by));
  const bands = image.getSamplesPerPixel(), canvas = document.createElement("canvas");
  canvas.width = wide;
  canvas.height = tall;
  const c = canvas.getContext("2d")!, out = c.createImageData(wide, tall);
  if (bands >= 3) {
    const rgb = (await image.readRGB({ width: wide, height: tall, interleave: true })) as unknown as ArrayLike<number>;
    const top = rgb instanceof Uint16Array ? 257 : 1, step = rgb.length / (wide * tall);
    for (let i = 0; i < wide * tall; i++) {
      for (let k = 0; k < 3; k++) out.data[4 * i + k] = rgb[step * i + k]! / top;
      out.data[4 * i + 3] = 255;
    }
  } else {
    // One band, such as a height model: from its least to its most as grey.
    const [grey] = (await image.readRasters({ width: wide, height: tall })) as unknown as ArrayLike<number>[];
    let least = Infinity, greatest = -Infinity;
    for (let i = 0; i < grey!.length; i++) if (Number.isFinite(grey![i]!)) [least, greatest] = [Math.min(least, grey![i]!), Math.max(greatest, grey![i]!)];
    for (let i = 0; i < wide * tall; i++) {
      out.data.fill(Math.round((255 * (grey![i]! - least)) / (greatest - least || 1)), 4 * i, 4 * i + 3);
      out.data[4 * i + 3] = 255;
    }
  }
  c.putImageData(out, 0, 0);
  const keys = image.getGeoKeys() as Record<string, number> | null, crs = keys?.ProjectedCSTypeGeoKey ?? keys?.GeographicTypeGeoKey ?? 0;
  let place: Place | null = null;
  try {
    const [east = 0, north = 0] = image.getOrigin(), [a = 0, e = 0] = image.getResolution();
    const area = keys?.GTRasterTypeGeoKey !== 2;
    place = placeScaled([a, 0, 0, e, area ? east + a / 2 : east, area ? north + e / 2 : north], wide / width);
  } catch {
    place = null;
  }
  return { canvas, place, crs };
}

/** A picture from a file of one's own. */
export async function pictureRead(file: File): Promise<Picture> {
  if (/\.tiff?$/i.test(file.name) || file.type === "image/tiff") return tiffRead(file);
  const bitmap = await createImageBitmap(file);
  return { canvas: fitted(bitmap, bitmap.width, bitmap.height).canvas, place: null, crs: 0 };
}

/** What is sent to the programme: JPEG, for photographs are large otherwise. */
export function pictureFile(picture: Picture, name: string): Promise<File> {
  return new Promise((done, fail) => picture.canvas.toBlob((blob) => (blob ? done(new File([blob], `${name}.jpg`, { type: "image/jpeg" })) : fail(new Error("no picture"))), "image/jpeg", 0.85));
}

const kept = new Map<number, ImageBitmap | null>();
/** The picture of a backdrop, once it is there; `ready` is called when it comes. */
export function backdropImage(one: Backdrop, ready: () => void): ImageBitmap | null {
  const known = kept.get(one.id);
  if (known !== undefined) return known;
  kept.set(one.id, null);
  void run("backdrop", { stored: true, show: one.id, to: "backdrop.jpg" })
    .then((note) => fetch(fileAddress(note.written![0]!.path)))
    .then((answer) => answer.blob())
    .then(createImageBitmap)
    .then((bitmap) => (kept.set(one.id, bitmap), ready()))
    .catch(() => kept.delete(one.id));
  return null;
}

/** Draw it with the given scale (pixel = a·east + e, d·north + f). */
export function backdropDraw(c: CanvasRenderingContext2D, image: ImageBitmap, place: Place, [a, d, e, f]: [number, number, number, number]): void {
  const [ca, cd, rb, re, x, y] = place, left = x - (ca + rb) / 2, top = y - (cd + re) / 2;
  c.save();
  c.transform(a * ca, d * cd, a * rb, d * re, a * left + e, d * top + f);
  c.globalAlpha = 0.8;
  c.drawImage(image, 0, 0);
  c.restore();
}
