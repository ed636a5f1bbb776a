// SPDX-License-Identifier: GPL-3.0-or-later
// Plants of a plan that are being moved: shared by the map on which they are dragged and the form that stores them.
import type { Corner } from "./sketch";

interface Moves {
  on: boolean;
  /** Index into the places of the map, or −1. */
  chosen: number;
  to: Map<number, Corner>;
}
export const moves: Moves = { on: false, chosen: -1, to: new Map() };
const listeners = new Set<() => void>();

export function onMoves(one: () => void): () => void {
  listeners.add(one);
  return () => void listeners.delete(one);
}
export function movesSet(change: Partial<Moves>): void {
  Object.assign(moves, change);
  for (const one of [...listeners]) one();
}
export function moveTo(place: number, to: Corner): void {
  movesSet({ chosen: place, to: new Map(moves.to).set(place, [Math.round(to[0] * 1000) / 1000, Math.round(to[1] * 1000) / 1000]) });
}
