// What is asked for in words, and what is measured in the reader's units.
'use strict';

Stillroom.conditions = (function () {
  var W = Stillroom.words;

  /** "At 32 dBA", "At full speed". @param {any} s */
  function setting(s) {
    return s.full ? 'At full speed' : 'At ' + W.withUnit(W.number(s.limit, Number.isInteger(s.limit) ? 0 : 1), 'dBA');
  }

  /** "through the 27 mm radiator", "in free air". @param {any} s @param {any} est */
  function through(s, est) {
    var set = Stillroom.settings;
    var tiles = s.fans > 1 && s.tiled ? W.count(s.fans) + ' tiles of ' : '';
    if (s.through === set.OWN && s.own) return 'through ' + (tiles ? W.count(s.fans) + ' tiles, each of ' : '') + s.told.trim();
    if (s.through === set.COEFFICIENTS && s.own) return 'through ' + (tiles ? tiles : '') + 'a resistance of your own';
    var found = s.own === null ? set.named(est, s.through) : null;
    return found ? 'through ' + tiles + found.words : 'in free air';
  }

  /** ", three of each side by side", or "". @param {any} s */
  function several(s) {
    return s.fans > 1 ? ', ' + W.count(s.fans) + ' of each side by side' : '';
  }

  /** All of it as a sentence begins. @param {any} s @param {any} est */
  function whole(s, est) {
    return setting(s) + ' ' + through(s, est) + several(s) + (s.fans > 1 ? ',' : '');
  }

  /** A unit that the reader chose: symbol and factor to SI. @param {any} s @param {any} release @param {string} kind */
  function unit(s, release, kind) {
    return Stillroom.settings.unitNamed(release.units[kind], s[kind]) || release.units[kind][0];
  }

  /** "48.2 m³/h" from SI. @param {number} value @param {number|null} low @param {number|null} high @param {any} u */
  function shown(value, low, high, u) {
    var f = u.factor;
    return W.withUnit(W.rounded(value / f, low === null ? null : low / f, high === null ? null : high / f), u.symbol);
  }

  /** A row's value as it is known: a number, a bound, or a range where one number would be a lie. @param {any} row @param {any} u */
  function value(row, u) {
    if (row.ends) return W.spread(row.ends[0] / u.factor, row.ends[1] / u.factor, u.symbol);
    return (row.bound ? row.bound + ' ' : '') + shown(row.value, row.low, row.high, u);
  }

  /** "46.9 to 49.5" from SI. @param {number|null} low @param {number|null} high @param {any} u */
  function interval(low, high, u) {
    return W.interval(low === null ? null : low / u.factor, high === null ? null : high / u.factor);
  }

  /** The microphone's distance: "0.5 m"; "" where it isn't told. @param {any} est */
  function distance(est) {
    var told = est.lab.distance;
    return typeof told === 'number' ? W.withUnit(String(told), 'm') : told || '';
  }

  /** Whether a resistance of the reader's own is wanted that can't be read yet. @param {any} s */
  function isUnread(s) {
    return s.own === null && (s.through === Stillroom.settings.OWN || s.through === Stillroom.settings.COEFFICIENTS);
  }

  /** A speed in 1/s: "1,012 rpm". @param {number|null|undefined} speed */
  function rpm(speed) {
    return typeof speed === 'number' && isFinite(speed) ? W.withUnit(W.number(speed * 60, speed * 60 >= 1000 ? -1 : 0), 'rpm') : 'not known';
  }

  /** "11.90 EUR", or "not known". @param {any} price */
  function price(price) {
    if (!price) return 'not known';
    return W.withUnit(W.number(price.value, 2), price.currency || '');
  }

  /** A mark with what it means, where its own words don't tell. @param {string} mark @param {any} release */
  function explained(mark, release) {
    var known = Object.keys(release.meanings || {}).filter(function (each) { return mark.indexOf(each) === 0; })[0];
    return known ? [mark, Stillroom.parts.el('span', { class: 'muted' }, ': ' + release.meanings[known])] : [mark];
  }

  /** The margin in words: "5 %", "2 m³/h". @param {any} est @param {any} u */
  function margin(est, u) {
    var told = est.margin;
    if (typeof told === 'number') return W.withUnit(percent(told), '%');
    return told.kind === 'relative' ? W.withUnit(percent(told.size), '%') : W.withUnit(W.bare(told.size / u.factor), u.symbol);
  }

  /** @param {number} share */
  function percent(share) { return String(parseFloat((share * 100).toPrecision(3))); }

  return { explained: explained, distance: distance, isUnread: isUnread, setting: setting, through: through, several: several, whole: whole, unit: unit, shown: shown, value: value,
    interval: interval, rpm: rpm, price: price, margin: margin };
})();
