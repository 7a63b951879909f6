'use strict';

// @ts-check
// Small dense matrices, row by row in Float64Arrays.
(() => {
  const SERIES_NORM = 0.5; // where the exponential's power series is used
  const SERIES_TERMS = 14; // 0.5^14 / 14! is below rounding

  /**
   * Solve A X = B; both are overwritten, B with X.
   * @param {Float64Array} a n × n
   * @param {Float64Array} b n × m
   * @param {number} n
   * @param {number} m
   * @returns {boolean} false where A is singular
   */
  function solve(a, b, n, m) {
    for (let row = 0; row < n; row += 1) {
      let largest = 0;
      for (let k = 0; k < n; k += 1) largest = Math.max(largest, Math.abs(a[row * n + k]));
      if (largest === 0) return false;
      for (let k = 0; k < n; k += 1) a[row * n + k] /= largest;
      for (let k = 0; k < m; k += 1) b[row * m + k] /= largest;
    }
    for (let column = 0; column < n; column += 1) {
      let pivot = column;
      for (let row = column + 1; row < n; row += 1) {
        if (Math.abs(a[row * n + column]) > Math.abs(a[pivot * n + column])) pivot = row;
      }
      if (a[pivot * n + column] === 0) return false;
      swap(a, n, pivot, column);
      swap(b, m, pivot, column);
      for (let row = column + 1; row < n; row += 1) {
        const share = a[row * n + column] / a[column * n + column];
        if (share === 0) continue;
        for (let k = column + 1; k < n; k += 1) a[row * n + k] -= share * a[column * n + k];
        for (let k = 0; k < m; k += 1) b[row * m + k] -= share * b[column * m + k];
      }
    }
    for (let row = n - 1; row >= 0; row -= 1) {
      for (let k = 0; k < m; k += 1) {
        let sum = b[row * m + k];
        for (let j = row + 1; j < n; j += 1) sum -= a[row * n + j] * b[j * m + k];
        b[row * m + k] = sum / a[row * n + row];
      }
    }
    return true;
  }

  /** @type {(matrix: Float64Array, width: number, one: number, other: number) => void} */
  function swap(matrix, width, one, other) {
    if (one === other) return;
    for (let k = 0; k < width; k += 1) {
      [matrix[one * width + k], matrix[other * width + k]] = [matrix[other * width + k], matrix[one * width + k]];
    }
  }

  /** @type {(a: Float64Array, b: Float64Array, n: number) => Float64Array} */
  function product(a, b, n) {
    const made = new Float64Array(n * n);
    for (let i = 0; i < n; i += 1) {
      for (let k = 0; k < n; k += 1) {
        const factor = a[i * n + k];
        if (factor === 0) continue;
        for (let j = 0; j < n; j += 1) made[i * n + j] += factor * b[k * n + j];
      }
    }
    return made;
  }

  /**
   * The exponential of a matrix, by its power series at 2^-k of it, squared k times.
   * @param {Float64Array} matrix n × n
   * @param {number} n
   * @returns {Float64Array}
   */
  function exponential(matrix, n) {
    let norm = 0;
    for (let i = 0; i < n; i += 1) {
      let sum = 0;
      for (let j = 0; j < n; j += 1) sum += Math.abs(matrix[i * n + j]);
      norm = Math.max(norm, sum);
    }
    const halvings = norm > 0 ? Math.max(0, Math.ceil(Math.log2(norm / SERIES_NORM))) : 0;
    const scaled = matrix.map((value) => value / 2 ** halvings);
    /** @type {Float64Array} */
    let total = new Float64Array(n * n);
    for (let i = 0; i < n; i += 1) total[i * n + i] = 1;
    let term = total.slice();
    for (let order = 1; order < SERIES_TERMS; order += 1) {
      term = product(term, scaled, n).map((value) => value / order);
      total = total.map((value, i) => value + term[i]);
    }
    for (let i = 0; i < halvings; i += 1) total = product(total, total, n);
    return total;
  }

  /**
   * Solve (G + jωC) x = b for one complex column; the arguments are overwritten.
   * @param {Float64Array} re n × n
   * @param {Float64Array} im n × n
   * @param {Float64Array} bRe n × m
   * @param {Float64Array} bIm n × m
   * @param {number} n
   * @param {number} m
   * @returns {boolean} false where the matrix is singular
   */
  function solveComplex(re, im, bRe, bIm, n, m) {
    const size = (/** @type {number} */ i) => Math.abs(re[i]) + Math.abs(im[i]);
    for (let column = 0; column < n; column += 1) {
      let pivot = column;
      for (let row = column + 1; row < n; row += 1) if (size(row * n + column) > size(pivot * n + column)) pivot = row;
      if (size(pivot * n + column) === 0) return false;
      swap(re, n, pivot, column);
      swap(im, n, pivot, column);
      swap(bRe, m, pivot, column);
      swap(bIm, m, pivot, column);
      const at = column * n + column;
      const square = re[at] ** 2 + im[at] ** 2;
      for (let row = 0; row < n; row += 1) {
        const i = row * n + column;
        if (row === column || size(i) === 0) continue;
        const a = (re[i] * re[at] + im[i] * im[at]) / square;
        const b = (im[i] * re[at] - re[i] * im[at]) / square;
        for (let k = column; k < n; k += 1) reduce(re, im, row * n + k, column * n + k, a, b);
        for (let k = 0; k < m; k += 1) reduce(bRe, bIm, row * m + k, column * m + k, a, b);
      }
    }
    for (let row = 0; row < n; row += 1) {
      const at = row * n + row;
      const square = re[at] ** 2 + im[at] ** 2;
      for (let k = row * m; k < (row + 1) * m; k += 1) {
        const [x, y] = [bRe[k], bIm[k]];
        bRe[k] = (x * re[at] + y * im[at]) / square;
        bIm[k] = (y * re[at] - x * im[at]) / square;
      }
    }
    return true;
  }

  /** @type {(re: Float64Array, im: Float64Array, to: number, from: number, a: number, b: number) => void} */
  function reduce(re, im, to, from, a, b) {
    const [x, y] = [re[from], im[from]];
    re[to] -= a * x - b * y;
    im[to] -= a * y + b * x;
  }

  globalThis.sublatch ??= {};
  sublatch.matrices = { solve, product, exponential, solveComplex };
})();
