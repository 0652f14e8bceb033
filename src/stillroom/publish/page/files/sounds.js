// Excerpts of recordings at one level, where the release has them. Nothing is loaded before the reader plays one.
'use strict';

/**
 * @param {Element} place where they go @param {number[]} fans whose, in order @param {number} most at the most so many
 */
Stillroom.sounds = function (place, fans, most) {
  var P = Stillroom.parts;
  var told = (window.stillroomRelease || {}).sounds;
  var chosen = told ? fans.filter(function (each) { return told.files[each]; }).slice(0, most) : [];
  var key = chosen.join();
  if (/** @type {any} */ (place).dataset.told === key) return;
  /** @type {any} */ (place).dataset.told = key;
  P.put(place);
  if (!told || !chosen.length) return;
  P.fill(place, { class: 'listen' }, [
    P.el('h3', {}, chosen.length > 1 ? 'Hear them at one level' : 'Hear it'),
    P.el('p', { class: 'small' }, told.words),
    P.fill(P.el('ul', {}), {}, chosen.map(function (index) {
      var one = told.files[index];
      return P.el('li', {}, P.el('p', {}, P.el('strong', {}, P.el('bdi', {}, one.fan)), ': ' + one.words),
        P.el('audio', { controls: true, preload: 'none', src: one.file, 'aria-label': one.fan + ', ' + one.words }));
    }))]);
};
