# The part of scripts/ear-table that judges real takes. Sourced by it, never run.

step "Real talk, typing and wood, from Debian"
mapfile -t packages < <(cd "$here" && "$python" -c 'import recordings; print(*sum(recordings.PACKAGES.values(), []), sep="\n")')
fetch_deb "${packages[@]}"

step "Building the ear"
cargo build --release --locked -p fifthpeg-ear --example ear_judge

step "Scenes out of the takes"
material=$out/ear-real${quick:+-quick}
stamp=$({
    cat "$here"/{basics,takes,devices,scenes,played,unplayed,recordings,nuisances,material,real_material}.py
    cat "$takes"/takes.csv
    find "$takes" "$sounds" -type f -printf '%p %s\n' | sort
    "$python" -c 'import numpy; print(numpy.__version__)'
} | sha256sum)
if [ "$(cat "$material/stamp" 2>/dev/null || true)" = "$stamp" ]; then
    echo "as they were made before, in ${material#"$root/"}"
else
    nice "$python" "$here/real_material.py" "$takes" "$material" $quick --recordings "$sounds"
    echo "$stamp" >"$material/stamp"
fi

judged=()
for ear in "this=$built/ear_judge" "${ears[@]}"; do
    name=${ear%%=*}
    step "The ear: $name"
    "${ear#*=}" "$material" "$material.$name.csv" | tail -n +2
    judged+=("$name=$material.$name.csv")
done

if [ -z "$ear_only" ]; then
    step "The other libraries"
    # Those that did best on real strings; pyin takes far longer and does worse.
    nice "$python" "$here/judge_others.py" "$material" "$material.others.csv" \
        --methods "aubio yinfft,librosa yin"
    judged+=(--others "$material.others.csv")
fi

table=$out/ear-real${quick:+-quick}.md
step "The table, also in ${table#"$root/"}"
"$python" "$here/real_table.py" "$material" "${judged[@]}" | tee "$table"
