// Pointer and keys on a map: drag moves, wheel and pinch zoom, a click or Enter tells about a place.

/**
 * `told(place)`: tell about this place of the plane; `over(place | null, event)`: the mouse is there;
 * `cross`: the place of the crosshair that arrow keys move, shared by all maps; `left()`: Escape; `other(key)`: any other key,
 * whether it means something; `grab(place)`: whether a drag from here takes what lies there along, not the map.
 */
export function takeInHand(canvas, view, { told, over, cross, left, other = () => false, grab = () => false }) {
  const down = new Map();
  let moved = false;
  let grabbed = false;
  const at = (event) => {
    const box = canvas.getBoundingClientRect();
    return view.toPlane(event.clientX - box.left, event.clientY - box.top);
  };

  canvas.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    down.set(event.pointerId, event);
    moved = false;
    grabbed = down.size === 1 && grab(at(event));
  });
  canvas.addEventListener("pointermove", (event) => {
    const before = down.get(event.pointerId);
    if (!before) {
      if (event.pointerType === "mouse") over(at(event), event);
      return;
    }
    const way = Math.hypot(event.clientX - before.clientX, event.clientY - before.clientY);
    if (!moved && way < 5 && down.size < 2) return;
    if (!moved) capture(canvas, event.pointerId);
    if (grabbed) {
      if (!moved) told(at(before));
      moved = true;
      over(at(event), event);
      return;
    }
    moved = true;
    over(null);
    if (down.size === 1) view.move(before.clientX - event.clientX, before.clientY - event.clientY);
    else pinch(event, before);
    down.set(event.pointerId, event);
  });
  function pinch(event, before) {
    const other = [...down.values()].find((each) => each.pointerId !== event.pointerId);
    const away = (one) => Math.max(8, Math.hypot(one.clientX - other.clientX, one.clientY - other.clientY));
    const box = canvas.getBoundingClientRect();
    const middle = view.toPlane((event.clientX + other.clientX) / 2 - box.left, (event.clientY + other.clientY) / 2 - box.top);
    view.zoom(away(event) / away(before), middle);
  }
  const up = (event) => { down.delete(event.pointerId); };
  canvas.addEventListener("pointerup", (event) => {
    up(event);
    if (grabbed && moved) told(at(event));
    grabbed = false;
  });
  canvas.addEventListener("pointercancel", (event) => {
    up(event);
    grabbed = false;
  });
  canvas.addEventListener("pointerleave", () => over(null));
  canvas.addEventListener("click", (event) => { if (!moved) told(at(event)); });

  canvas.addEventListener("wheel", (event) => {
    // A page that is scrolled stays so while the whole field is in sight.
    if (!event.ctrlKey && view.fitted && event.deltaY > 0) return;
    event.preventDefault();
    view.zoom(event.deltaY < 0 ? 1.25 : 0.8, at(event));
  }, { passive: false });

  const moveCross = (dx, dy) => (event) => {
    const far = (event.shiftKey ? 48 : 12) * view.perPixel;
    cross.set(cross.get() ?? { x: view.x, y: view.y }, dx * far, dy * far);
  };
  const keys = {
    ArrowLeft: moveCross(-1, 0), ArrowRight: moveCross(1, 0), ArrowUp: moveCross(0, -1), ArrowDown: moveCross(0, 1),
    "+": () => view.zoom(1.5, cross.get() ?? undefined), "=": () => view.zoom(1.5, cross.get() ?? undefined),
    "-": () => view.zoom(1 / 1.5, cross.get() ?? undefined), 0: () => view.fit(),
    Enter: () => told(cross.get() ?? { x: view.x, y: view.y }), " ": () => told(cross.get() ?? { x: view.x, y: view.y }),
    Escape: () => left(),
  };
  canvas.addEventListener("keydown", (event) => {
    const does = keys[event.key];
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (!does && !other(event.key)) return;
    event.preventDefault();
    does?.(event);
  });
}

function capture(canvas, pointer) {
  try {
    canvas.setPointerCapture(pointer);
  } catch {
    // The pointer has gone meanwhile.
  }
}
