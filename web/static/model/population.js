// Published people from the model's numbers: which of them a performer is compared with.

/**
 * One sex and age, ready for use. Everything is on natural logarithms of mm.
 * @typedef {object} Component
 * @property {Float64Array} logMean
 * @property {Float64Array} within covariance of true dimensions within a hand, row by row
 * @property {Float64Array} between covariance between the two hands
 * @property {Float64Array} error measuring error of one reading, SD
 * @property {number} homeError own error of a reading taken at home, as a multiple
 * @property {number} homeScale common scale error of one person's readings taken at home, SD
 */

/**
 * Components behind a population's key (`women`, `men`, `adults`, `girl_9`, `boy_9`, `child_9`)
 * with their weights before any reading; none for an unknown key.
 * @param {object} numbers the model as numbers, as the server sends it
 * @returns {(key: string) => [number, Component][]}
 */
export function populations(numbers) {
  const known = new Map(numbers.populations.map((p) => [p.key, p]));
  const made = new Map();
  const component = (key) => {
    if (!made.has(key)) made.set(key, componentOf(numbers, known.get(key)));
    return made.get(key);
  };
  return (key) => {
    const population = known.get(key);
    if (!population) return [];
    const parts = population.parts ?? [[key, 1]];
    return parts.map(([part, weight]) => [weight, component(part)]);
  };
}

function componentOf({ dimensions, covariances, home_error: homeError, home_scale_sd: homeScale }, { log_mean: means, covariance }) {
  const n = dimensions.length;
  const { within: triangle, apart } = covariances[covariance];
  const logMean = Float64Array.from(means);
  const within = new Float64Array(n * n);
  let next = 0;
  for (let i = 0; i < n; i += 1) {
    for (let j = i; j < n; j += 1) {
      within[i * n + j] = triangle[next];
      within[j * n + i] = triangle[next];
      next += 1;
    }
  }
  const between = Float64Array.from(within);
  for (const [i, j, value] of apart) {
    between[i * n + j] -= value;
    if (i !== j) between[j * n + i] -= value;
  }
  const error = Float64Array.from(dimensions, (d, i) => d.error_mm / Math.exp(logMean[i]));
  return { logMean, within, between, error, homeError, homeScale };
}
