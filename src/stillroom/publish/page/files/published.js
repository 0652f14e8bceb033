// The release's own numbers: at the settings of a published measure they stand in place of what is looked up.
'use strict';

Stillroom.published = (function () {
  var LOOKED_UP = 'Looked up from the release’s tables: within a tenth of the interval of what the laboratory works out itself.';
  var OWN = 'The release’s own numbers, as published.';
  var OF_SHOWN = 'Values are the release’s own, as published; verdicts and places are among the fans shown.';

  /** The published ranking at these settings, or null. @param {any} release @param {any} asked as the estimate is asked */
  function at(release, asked) {
    if (asked.resistance || asked.fans !== 1 || asked.tiles !== 1) return null;
    return (release.published || []).filter(function (/** @type {any} */ each) {
      return each.through === asked.obstacle && each.limit === asked.limit && (each.size === null || each.size === asked.size);
    })[0] || null;
  }

  /** The ranking: as published where it is, else as looked up. @param {any} est @param {any} release @param {any} asked */
  function rank(est, release, asked) {
    var found = est.rank(asked);
    var own = at(release, asked);
    if (!own) return Object.assign(found, { note: LOOKED_UP, own: null });
    var isPart = asked.only !== null || asked.ceiling !== null;
    /** @type {Object<number, any>} */ var looked = {};
    found.rows.forEach(function (/** @type {any} */ row) { looked[row.fan] = row; });
    var rows = own.rows.map(function (/** @type {any[]} */ told) { return line(told, own, looked[told[0]] || {}, isPart); })
      .filter(function (/** @type {any} */ row) { return isAsked(est.fans[row.fan], asked); });
    var best = isPart ? found.best : own.best;
    return { rows: rows, best: best, left: left(own, rows, found, est, asked), note: isPart ? OF_SHOWN : OWN, own: own };
  }

  /** @param {any[]} told @param {any} own @param {any} looked the estimate's line @param {boolean} isPart whether only some fans are asked for */
  function line(told, own, looked, isPart) {
    var isBest = own.best.indexOf(told[0]) >= 0;
    var verdict = isBest ? 'too close' : told[6] ? 'behind' : 'not judged';
    return {
      fan: told[0], value: told[1], low: told[2], high: told[3], bound: told[5] ? '' : own.words[told[4]], ends: told[5],
      speed: looked.speed, how: own.words[told[7]], marks: told[8].map(function (/** @type {number} */ each) { return own.words[each]; }),
      rank: isPart ? looked.rank : told[6], verdict: isPart ? looked.verdict || 'not judged' : verdict
    };
  }

  /** @param {any} fan @param {any} asked */
  function isAsked(fan, asked) {
    if (asked.only !== null && asked.only.indexOf(fan.index) < 0) return false;
    return asked.ceiling === null || (fan.price !== null && fan.price.value <= asked.ceiling);
  }

  /** Who is left out: as published, and whom the reader's own wishes leave out. */
  function left(/** @type {any} */ own, /** @type {any[]} */ rows, /** @type {any} */ found, /** @type {any} */ est, /** @type {any} */ asked) {
    var there = rows.map(function (row) { return row.fan; });
    var gone = own.left.filter(function (/** @type {any[]} */ each) { return typeof each[0] === 'string' ? asked.only === null : isAsked(est.fans[each[0]], asked); })
      .map(function (/** @type {any[]} */ each) { return typeof each[0] === 'string' ? { fan: -1, name: each[0], why: each[1] } : { fan: each[0], why: each[1] }; });
    there = there.concat(gone.map(function (/** @type {any} */ each) { return each.fan; }));
    return gone.concat(found.left.filter(function (/** @type {any} */ each) { return there.indexOf(each.fan) < 0; }));
  }

  /**
   * Two fans as the ranking's pairs tell them; null where it has no such pair.
   * @param {any} own the published ranking @param {any} one @param {any} two fans of the estimate @param {any} upper the file of the one that stands higher
   * @param {any} est
   */
  function pair(own, one, two, upper, est) {
    var lower = upper.name === one.name ? two : one;
    var said = (upper.standings || []).filter(function (/** @type {any} */ each) { return each.slug === own.slug; })[0];
    var pairs = said && said.pairs || [];
    var told = pairs.filter(function (/** @type {any[]} */ each) { return each[0] === lower.name; })[0];
    if (!told) return null;
    var isTurned = lower === one;
    var sign = isTurned ? -1 : 1;
    /** @param {number|null} end */
    function signed(end) { return end === null ? null : sign * end; }
    var values = [one, two].map(function (fan) { return own.rows.filter(function (/** @type {any[]} */ row) { return row[0] === fan.index; })[0][1]; });
    var margin = own.margin.kind === 'relative' ? own.margin.size * (Math.abs(values[0]) + Math.abs(values[1])) / 2 : own.margin.size;
    var found = { difference: sign * told[1], low: signed(told[isTurned ? 3 : 2]), high: signed(told[isTurned ? 2 : 3]), margin: margin };
    var turned = /** @type {any} */ ({ ahead: 'behind', behind: 'ahead' });
    var word = isTurned ? turned[told[4]] || told[4] : told[4];
    return Object.assign(found, { verdict: word in turned ? word : 'too close', words: est.gapWords(word, found), further: est.furtherWords(told[5], told[6]) });
  }

  /** Which of two fans stands higher in the published ranking; null where one isn't in it. @param {any} own @param {any} one @param {any} two */
  function higher(own, one, two) {
    var order = own.rows.map(function (/** @type {any[]} */ row) { return row[0]; });
    var places = [order.indexOf(one.index), order.indexOf(two.index)];
    if (places[0] < 0 || places[1] < 0) return null;
    return places[0] < places[1] ? one : two;
  }

  return { rank: rank, pair: pair, higher: higher, OWN: OWN, LOOKED_UP: LOOKED_UP };
})();
