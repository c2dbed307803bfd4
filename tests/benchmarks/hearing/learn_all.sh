#!/usr/bin/env bash
# All that a model is made of, in one go: songs, the pulse (learned while they are being made), the nets, and how they
# judge songs that neither knows. Then: python rerank.py FOLDER/out/judged.gz --nets FOLDER/out/net-*.npz
#
#     bash tests/benchmarks/hearing/learn_all.sh FOLDER MIDI_DIR TUNES [SECONDS] [JOBS]
#
# TUNES is written by `school.py tunes`. Needs mido, mir_eval, jax, optax, fluidsynth and a soundfont; an accelerator.
set -euo pipefail
folder=$1 midi=$2 tunes=$3 seconds=${4:-500} jobs=${5:-$(nproc)}
here=$(dirname "$0")
export OPENBLAS_NUM_THREADS=1 OMP_NUM_THREADS=1 XLA_PYTHON_CLIENT_PREALLOCATE=false
mkdir -p "$folder/out"
python3 "$here/school.py" make "$folder/songs" --kept "$folder/kept" --midi "$midi" --tunes "$tunes" \
    --seconds "$seconds" --jobs "$jobs" &
making=$!
python3 "$here/train_pulse.py" "$folder/songs" --kept "$folder/kept" --out "$folder/out/pulse.npz" \
    --seconds $((seconds * 9 / 10))
wait $making
heard=(--kept "$folder/kept" --pulse "$folder/out/pulse.npz")
python3 "$here/train.py" hear "$folder/songs" "$folder/lessons" "${heard[@]}" --jobs "$jobs"
learning=()
for seed in 1 2 3 4; do
    python3 "$here/train.py" net "$folder/lessons" "$folder/out/net-$seed.npz" --seed $seed &
    learning+=($!)
done
for one in "${learning[@]}"; do wait "$one"; done
python3 "$here/train.py" judge "$folder/songs" "$folder/out/judged.gz" "${heard[@]}" \
    --nets "$folder"/out/net-*.npz --jobs "$jobs"
