// The outlines of the engine's picture as shapes to draw: the y of the engine goes north, that of a screen south.

import { Shape } from "./shapes.js";

export const flipped = (rings) => rings.map((ring) => ring.map((number, nth) => (nth % 2 ? -number : number)));
const shape = (rings, closed = true) => (rings?.length ? new Shape(flipped(rings), closed) : null);

/** `picture`: the answer of /picture/N; `rows`: those of the plan. */
export function sceneOf(picture, rows) {
  const [west, south, east, north] = picture.box;
  const ofRow = new Map(picture.land.map((land) => [land.row, land]));
  const land = rows.map((row) => flipped(ofRow.get(row.row)?.rings ?? []));
  return {
    borders: new Shape(land.flat()),
    clear: new Shape(land.filter((_, nth) => rows[nth].setbacks.length).flat()),
    picture: picture.picture,
    grounds: picture.grounds ?? [],
    perM: picture.per_m,
    whole: { x: west, y: -north, width: east - west, height: north - south },
    boundary: shape(picture.boundary),
    out: shape(picture.exclusions),
    headland: shape(picture.interior),
    setbacks: picture.setbacks.map(({ name, rings }) => ({ name, shape: shape(rings) })),
    areas: picture.special_areas.map(({ name, rings }) => ({ name, shape: shape(rings) })),
    guide: null,
    ways: null,
    closed: null,
    refills: [],
    plots: [],
    rows: rows.map((row, nth) => ({
      shape: new Shape(land[nth]),
      labels: (ofRow.get(row.row)?.middles ?? []).map(([x, y, room]) => ({ x, y: -y, room })),
    })),
  };
}

/** Adds the bouts of /drive/N. */
export function withDrive(scene, drive) {
  const lines = drive?.lines ?? [];
  scene.ways = shape(lines.filter((bout) => !bout.tramline).map((bout) => bout.line), false);
  scene.closed = shape(lines.filter((bout) => bout.tramline).map((bout) => bout.line), false);
  scene.guide = shape(drive?.guide, false);
  scene.refills = (drive?.refills ?? []).map(({ at, nth }) => ({ x: at[0], y: -at[1], text: String(nth) }));
}

/** Puts the plots of trials on the scene, and gives it back. */
export function withPlots(scene, trials) {
  scene.plots = (trials ?? []).flatMap(({ plots }) => plots.map(({ ring, id, treatment, by_the_map: byMap }) => {
    const one = new Shape(flipped([ring]));
    const { x, y, width, height } = one.extent();
    return { shape: one, byMap, text: id, more: treatment, x: x + width / 2, y: y + height / 2 };
  }));
  return scene;
}

/** The row that a place lies in, from 0; -1 where nothing is sown. */
export const rowAt = (scene, { x, y }) => scene.rows.findIndex((row) => row.shape.holds(x, y));

/** An extent around shapes, or null. */
export function around(shapes) {
  const edges = shapes.filter((one) => one.rings.length).map((one) => one.edges());
  if (!edges.length) return null;
  const [x, y] = [0, 1].map((at) => Math.min(...edges.map((edge) => edge[at])));
  const [right, low] = [2, 3].map((at) => Math.max(...edges.map((edge) => edge[at])));
  return { x, y, width: right - x, height: low - y };
}
