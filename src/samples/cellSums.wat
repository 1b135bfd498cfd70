;; The loops over every pixel of a region, for pictures of 8 bits. `npm run wasm` assembles this into cellSumsBytes.ts.
;; Memory: the light of each of the 256 codes (f64) from 0 on; where the rest lies, cellReader.ts decides.
;; A cell is 24 bytes: its first pixel in the plane, its width and height in pixels (i32, and 4 bytes without meaning),
;; then 1 / its number of pixels (f64).
(module
  (memory (export "memory") 1)

  ;; Mean light of each cell, rounded. Four rows are summed side by side, since a sum waits for the one before it; each
  ;; row keeps its order of pixels, and the rows are added in order: sumCells in cellGrid.ts gives the same to the bit.
  (func (export "sumCells")
    (param $cell i32) (param $cellsEnd i32) (param $stride i32) (param $plane i32) (param $light i32)
    (local $from i32) (local $width i32) (local $rowsLeft i32) (local $p i32) (local $to i32)
    (local $stride2 i32) (local $stride3 i32)
    (local $sum f64) (local $sum0 f64) (local $sum1 f64) (local $sum2 f64) (local $sum3 f64)
    (local.set $stride2 (i32.mul (local.get $stride) (i32.const 2)))
    (local.set $stride3 (i32.mul (local.get $stride) (i32.const 3)))
    (loop $nextCell
      (local.set $from (i32.add (local.get $plane) (i32.load (local.get $cell))))
      (local.set $width (i32.load offset=4 (local.get $cell)))
      (local.set $rowsLeft (i32.load offset=8 (local.get $cell)))
      (local.set $sum (f64.const 0))
      (block $fourDone
        (loop $fourRows
          (br_if $fourDone (i32.lt_u (local.get $rowsLeft) (i32.const 4)))
          (local.set $sum0 (f64.const 0))
          (local.set $sum1 (f64.const 0))
          (local.set $sum2 (f64.const 0))
          (local.set $sum3 (f64.const 0))
          (local.set $p (local.get $from))
          (local.set $to (i32.add (local.get $from) (local.get $width)))
          (loop $pixels
            (local.set $sum0 (f64.add (local.get $sum0)
              (f64.load (i32.shl (i32.load8_u (local.get $p)) (i32.const 3)))))
            (local.set $sum1 (f64.add (local.get $sum1)
              (f64.load (i32.shl (i32.load8_u (i32.add (local.get $p) (local.get $stride))) (i32.const 3)))))
            (local.set $sum2 (f64.add (local.get $sum2)
              (f64.load (i32.shl (i32.load8_u (i32.add (local.get $p) (local.get $stride2))) (i32.const 3)))))
            (local.set $sum3 (f64.add (local.get $sum3)
              (f64.load (i32.shl (i32.load8_u (i32.add (local.get $p) (local.get $stride3))) (i32.const 3)))))
            (local.set $p (i32.add (local.get $p) (i32.const 1)))
            (br_if $pixels (i32.lt_u (local.get $p) (local.get $to))))
          (local.set $sum
            (f64.add (f64.add (f64.add (f64.add (local.get $sum)
              (local.get $sum0)) (local.get $sum1)) (local.get $sum2)) (local.get $sum3)))
          (local.set $from (i32.add (local.get $from) (i32.mul (local.get $stride) (i32.const 4))))
          (local.set $rowsLeft (i32.sub (local.get $rowsLeft) (i32.const 4)))
          (br $fourRows)))
      (block $rowsDone
        (loop $oneRow
          (br_if $rowsDone (i32.eqz (local.get $rowsLeft)))
          (local.set $sum0 (f64.const 0))
          (local.set $p (local.get $from))
          (local.set $to (i32.add (local.get $from) (local.get $width)))
          (loop $pixels
            (local.set $sum0 (f64.add (local.get $sum0)
              (f64.load (i32.shl (i32.load8_u (local.get $p)) (i32.const 3)))))
            (local.set $p (i32.add (local.get $p) (i32.const 1)))
            (br_if $pixels (i32.lt_u (local.get $p) (local.get $to))))
          (local.set $sum (f64.add (local.get $sum) (local.get $sum0)))
          (local.set $from (i32.add (local.get $from) (local.get $stride)))
          (local.set $rowsLeft (i32.sub (local.get $rowsLeft) (i32.const 1)))
          (br $oneRow)))
      (i32.store16 (local.get $light)
        (i32.trunc_f64_u
          (f64.add (f64.mul (local.get $sum) (f64.load offset=16 (local.get $cell))) (f64.const 0.5))))
      (local.set $light (i32.add (local.get $light) (i32.const 2)))
      (local.set $cell (i32.add (local.get $cell) (i32.const 24)))
      (br_if $nextCell (i32.lt_u (local.get $cell) (local.get $cellsEnd)))))

  ;; Highest code of each cell (16 bits each); `sumCells` has no part in it, since few frames reach the limit.
  (func (export "highestOfCells")
    (param $cell i32) (param $cellsEnd i32) (param $stride i32) (param $plane i32) (param $highest i32)
    (local $from i32) (local $width i32) (local $rowsLeft i32) (local $p i32) (local $to i32)
    (local $code i32) (local $most i32)
    (loop $nextCell
      (local.set $from (i32.add (local.get $plane) (i32.load (local.get $cell))))
      (local.set $width (i32.load offset=4 (local.get $cell)))
      (local.set $rowsLeft (i32.load offset=8 (local.get $cell)))
      (local.set $most (i32.const 0))
      (loop $rows
        (local.set $p (local.get $from))
        (local.set $to (i32.add (local.get $from) (local.get $width)))
        (loop $pixels
          (local.set $code (i32.load8_u (local.get $p)))
          (local.set $most
            (select (local.get $code) (local.get $most) (i32.gt_u (local.get $code) (local.get $most))))
          (local.set $p (i32.add (local.get $p) (i32.const 1)))
          (br_if $pixels (i32.lt_u (local.get $p) (local.get $to))))
        (local.set $from (i32.add (local.get $from) (local.get $stride)))
        (local.set $rowsLeft (i32.sub (local.get $rowsLeft) (i32.const 1)))
        (br_if $rows (local.get $rowsLeft)))
      (i32.store16 (local.get $highest) (local.get $most))
      (local.set $highest (i32.add (local.get $highest) (i32.const 2)))
      (local.set $cell (i32.add (local.get $cell) (i32.const 24)))
      (br_if $nextCell (i32.lt_u (local.get $cell) (local.get $cellsEnd)))))

  ;; Highest code from $p to before $end, 16 codes at a time; the bytes up to the next whole 16 are read as well.
  (func (export "highest") (param $p i32) (param $end i32) (result i32)
    (local $most v128)
    (loop $pixels
      (local.set $most (i8x16.max_u (local.get $most) (v128.load (local.get $p))))
      (local.set $p (i32.add (local.get $p) (i32.const 16)))
      (br_if $pixels (i32.lt_u (local.get $p) (local.get $end))))
    ;; Halves against halves until one code is left.
    (local.set $most (i8x16.max_u (local.get $most)
      (i8x16.shuffle 8 9 10 11 12 13 14 15 0 1 2 3 4 5 6 7 (local.get $most) (local.get $most))))
    (local.set $most (i8x16.max_u (local.get $most)
      (i8x16.shuffle 4 5 6 7 0 1 2 3 12 13 14 15 8 9 10 11 (local.get $most) (local.get $most))))
    (local.set $most (i8x16.max_u (local.get $most)
      (i8x16.shuffle 2 3 0 1 6 7 4 5 10 11 8 9 14 15 12 13 (local.get $most) (local.get $most))))
    (local.set $most (i8x16.max_u (local.get $most)
      (i8x16.shuffle 1 0 3 2 5 4 7 6 9 8 11 10 13 12 15 14 (local.get $most) (local.get $most))))
    (i8x16.extract_lane_u 0 (local.get $most)))

  ;; Sum of absolute changes of every so manieth code since the call before; keeps the codes for the next call.
  (func (export "change")
    (param $p i32) (param $end i32) (param $every i32) (param $before i32) (result i32)
    (local $code i32) (local $difference i32) (local $sum i32)
    (loop $pixels
      (local.set $code (i32.load8_u (local.get $p)))
      (local.set $difference (i32.sub (local.get $code) (i32.load8_u (local.get $before))))
      (local.set $sum (i32.add (local.get $sum)
        (select (local.get $difference) (i32.sub (i32.const 0) (local.get $difference))
          (i32.gt_s (local.get $difference) (i32.const 0)))))
      (i32.store8 (local.get $before) (local.get $code))
      (local.set $before (i32.add (local.get $before) (i32.const 1)))
      (local.set $p (i32.add (local.get $p) (local.get $every)))
      (br_if $pixels (i32.lt_u (local.get $p) (local.get $end))))
    (local.get $sum)))
