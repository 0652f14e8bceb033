"use strict";
/**
 * What the reader's page looks up: everything was computed when the release was made.
 * Coarse for now: rankings at some limits, the nearest one is shown.
 */
const StillroomEstimate = (() => {
  /** @param {any} data what data.js sets @returns an estimate */
  function open(data) {
    const nearest = (settings) => {
      const obstacle = settings.resistance ? "rad27" : settings.obstacle || "";
      const same = data.cases.filter((each) => each.obstacle === obstacle);
      const away = (each) =>
        settings.limit == null || each.limit == null
          ? settings.limit == each.limit ? 0 : 1e9
          : Math.abs(each.limit - settings.limit);
      return same.reduce((best, each) => (away(each) < away(best) ? each : best), same[0]);
    };
    const wanted = (settings, fan) => !settings.only || settings.only.includes(fan);

    function rank(settings) {
      const found = nearest(settings);
      const fans = settings.fans || 1;
      const left = found.left.filter((each) => wanted(settings, each.fan));
      const rows = [];
      for (const each of found.rows) {
        if (!wanted(settings, each.fan)) continue;
        const price = data.fans[each.fan].price;
        if (settings.ceiling != null && !price) left.push({ fan: each.fan, why: "price unknown" });
        else if (settings.ceiling != null && price.value > settings.ceiling)
          left.push({ fan: each.fan, why: "price above the ceiling" });
        else
          rows.push({
            ...each, value: each.value * fans, low: each.low * fans, high: each.high * fans,
            how: settings.resistance || fans > 1 ? "modelled" : each.how,
          });
      }
      return { rows, left, best: found.best.filter((fan) => rows.some((each) => each.fan === fan)) };
    }

    function pair(i, j, settings) {
      const rows = rank({ ...settings, only: [i, j] }).rows;
      const [a, b] = [rows.find((each) => each.fan === i), rows.find((each) => each.fan === j)];
      if (!a || !b) return null;
      const difference = a.value - b.value;
      const half = Math.hypot(a.high - a.low, b.high - b.low) / 2;
      const margin = (data.margin * (a.value + b.value)) / 2;
      const ahead = difference - half > 0 && difference > margin;
      const behind = difference + half < 0 && difference < -margin;
      const verdict = ahead ? "ahead" : behind ? "behind" : "too close";
      return { difference, low: difference - half, high: difference + half, margin, verdict, words: "", further: "" };
    }

    return {
      fans: data.fans, obstacles: data.obstacles, limits: data.limits, sizes: data.sizes, units: data.units,
      margin: data.margin, lab: data.lab, rank, pair,
    };
  }
  return { open };
})();
