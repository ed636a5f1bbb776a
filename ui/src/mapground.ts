// SPDX-License-Identifier: GPL-3.0-or-later
// The layer that holds everything of the programme. With many plants the picture is kept while the map is moved, and drawn anew after.
import type { FrameState } from "ol/Map";
import Layer from "ol/layer/Layer";
import { type Look, mapDraw } from "./mapdraw";
import { inksNow } from "./mapdraw";
import type { MapData } from "./state";

const many = 2500;
// Kept beyond the frame on each side, so that a short way needs no new picture.
const beyond = 0.3;

interface Kept {
  canvas: HTMLCanvasElement;
  resolution: number;
  /** East and north of its left upper corner. */
  corner: [number, number];
  key: string;
}

export class Ground extends Layer {
  private canvas = document.createElement("canvas");
  private kept: Kept | null = null;
  private version = 0;
  data: MapData | null = null;
  look: Look = { shown: {}, inks: inksNow(), species: -1, squares: null, ready: () => this.renew() };
  constructor() {
    super({});
    this.canvas.className = "ground";
  }
  /** Something to show has changed. */
  renew(): void {
    this.version++;
    this.changed();
  }
  override render(frame: FrameState): HTMLElement {
    const [width = 0, height = 0] = frame.size, ratio = frame.pixelRatio;
    if (this.canvas.width !== Math.round(width * ratio) || this.canvas.height !== Math.round(height * ratio)) {
      this.canvas.width = Math.round(width * ratio);
      this.canvas.height = Math.round(height * ratio);
      this.canvas.style.width = `${width}px`;
      this.canvas.style.height = `${height}px`;
    }
    const c = this.canvas.getContext("2d")!;
    c.setTransform(ratio, 0, 0, ratio, 0, 0);
    c.clearRect(0, 0, width, height);
    const data = this.data, extent = frame.extent!;
    if (!data) return this.canvas;
    const { resolution } = frame.viewState, left = extent[0]!, top = extent[3]!;
    if ((data.places?.length ?? 0) + (data.plants?.length ?? 0) < many) {
      mapDraw(c, data, [1 / resolution, -1 / resolution, -left / resolution, top / resolution], extent, resolution, ratio, this.look);
      return this.canvas;
    }
    const moving = frame.viewHints[0]! > 0 || frame.viewHints[1]! > 0;
    const key = `${this.version} ${width} ${height} ${ratio}`, kept = this.kept;
    const covers = kept && kept.resolution === resolution && kept.key === key && left >= kept.corner[0] && top <= kept.corner[1] && left + width * resolution <= kept.corner[0] + (kept.canvas.width / ratio) * resolution && top - height * resolution >= kept.corner[1] - (kept.canvas.height / ratio) * resolution;
    if (!covers && !(moving && kept && kept.key === key)) this.draw(data, left, top, width, height, resolution, ratio, key);
    const picture = this.kept!, scale = picture.resolution / resolution;
    c.drawImage(picture.canvas, (picture.corner[0] - left) / resolution, (top - picture.corner[1]) / resolution, (picture.canvas.width / ratio) * scale, (picture.canvas.height / ratio) * scale);
    return this.canvas;
  }
  private draw(data: MapData, left: number, top: number, width: number, height: number, resolution: number, ratio: number, key: string): void {
    const canvas = this.kept?.canvas ?? document.createElement("canvas");
    const wide = Math.round(width * (1 + 2 * beyond) * ratio), tall = Math.round(height * (1 + 2 * beyond) * ratio);
    if (canvas.width !== wide || canvas.height !== tall) {
      canvas.width = wide;
      canvas.height = tall;
    }
    const corner: [number, number] = [left - beyond * width * resolution, top + beyond * height * resolution];
    const c = canvas.getContext("2d")!;
    c.setTransform(ratio, 0, 0, ratio, 0, 0);
    c.clearRect(0, 0, wide, tall);
    const extent = [corner[0], corner[1] - (tall / ratio) * resolution, corner[0] + (wide / ratio) * resolution, corner[1]];
    mapDraw(c, data, [1 / resolution, -1 / resolution, -corner[0] / resolution, corner[1] / resolution], extent, resolution, ratio, this.look);
    this.kept = { canvas, resolution, corner, key };
  }
  override getSourceState() {
    return "ready" as const;
  }
}
