// Hatches, so that nothing on a map is told by colour alone. The same ones stand in the legend.

const INK = "#10457a";

const DRAWN = {
  // Nothing of this product: slanting lines.
  off: { size: 10, draw: (pen) => lines(pen, "#5b6664", 1.6, [[-2, 12, 12, -2], [-2, 2, 2, -2], [8, 12, 12, 8]]) },
  // A strip that is kept clear: dots.
  clear: { size: 6, draw: (pen) => { pen.fillStyle = INK; pen.beginPath(); pen.arc(2, 2, 1.2, 0, 7); pen.fill(); } },
  // Land that is left out: bricks.
  out: { size: 8, draw: (pen) => lines(pen, INK, 1, [[0, 2, 8, 2], [4, 4, 4, 8]]) },
  // A rate that is held down: arrow heads that point down, dark on light.
  held: {
    size: 22,
    draw: (pen) => {
      for (const [colour, width] of [["#ffffff", 3.6], ["#111111", 1.5]]) {
        lines(pen, colour, width, [[7, 9, 11, 13], [11, 13, 15, 9]]);
      }
    },
  },
};

function lines(pen, colour, width, all) {
  pen.strokeStyle = colour;
  pen.lineWidth = width;
  pen.beginPath();
  for (const [x, y, toX, toY] of all) {
    pen.moveTo(x, y);
    pen.lineTo(toX, toY);
  }
  pen.stroke();
}

function tile(name, scale) {
  const { size, draw } = DRAWN[name];
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(size * scale);
  canvas.height = Math.round(size * scale);
  const pen = canvas.getContext("2d");
  pen.scale(canvas.width / size, canvas.height / size);
  draw(pen);
  return canvas;
}

const tiles = new Map();

/** A pattern to fill with, in pixels of the screen whatever the pen's turn and scale. */
export function hatch(pen, name, scale) {
  const key = `${name} ${scale}`;
  if (!tiles.has(key)) tiles.set(key, tile(name, scale));
  const pattern = pen.createPattern(tiles.get(key), "repeat");
  pattern.setTransform(pen.getTransform().inverse());
  return pattern;
}

const pictures = new Map(); // tiles as data addresses, for legends

/** A little picture for legends: a colour, and a hatch over it. */
export function swatch(fill, over = null) {
  const box = document.createElement("span");
  box.className = "swatch";
  box.setAttribute("aria-hidden", "true");
  box.style.backgroundColor = fill || "#ffffff";
  if (over) {
    if (!pictures.has(over)) pictures.set(over, tile(over, 1).toDataURL());
    box.style.backgroundImage = `url(${pictures.get(over)})`;
  }
  return box;
}
