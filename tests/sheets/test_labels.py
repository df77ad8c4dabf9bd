def test_a_label_says_what_it_is_and_what_not_to_do(village_paper, pages_of):
    (page,) = pages_of(village_paper["labels.pdf"])
    for words in (
        "BAIT BOX",
        "for honey bees",
        "Please leave alone. Do not spray.",
        "Name",
        "Phone",
        "UK: bait hive, US: swarm trap",
    ):
        assert words in page


def test_boxes_of_the_plan_and_those_that_hang_have_a_label_each(village_paper, pages_of):
    # B9 hangs; B8 was taken down last year
    (page,) = pages_of(village_paper["labels.pdf"])
    found = [name for name in ("B1", "B2", "B3", "B4", "B5", "B8", "B9") if f"box {name}" in page]
    assert found == ["B1", "B2", "B3", "B4", "B5", "B9"]


def test_the_page_is_filled_with_labels_to_write_on(village_paper, pages_of):
    (page,) = pages_of(village_paper["labels.pdf"])
    assert page.count("BAIT BOX") == 8
    assert page.count("Bait box ........") == 2


def test_more_boxes_take_more_pages(paper, map_tables, pages_of):
    plan = map_tables["plan"].iloc[[0] * 20]
    plan = plan.assign(rank=range(1, 21), box=[f"X{k}" for k in range(20)])
    pages = pages_of(paper(plan=plan)["labels.pdf"])
    assert len(pages) == 3
    assert all(any(f"Bait box X{k}" in page for page in pages) for k in range(20))


def test_a_label_tells_nobody_where_the_other_boxes_hang(village_paper, map_tables, pages_of):
    (page,) = pages_of(village_paper["labels.pdf"])
    assert not [name for name in map_tables["plan"]["site"] if name in page]
